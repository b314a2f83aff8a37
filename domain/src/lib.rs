//! The rules of Assize: what a strip test's number means, what may be released, what is recorded.
//!
//! Pure functions over facts: no I/O, clock, randomness or panic. Every measurement is an exact
//! decimal; binary floating point lives in `statistics` alone.
//!
//! | room | question it answers |
//! |---|---|
//! | [`analytes`] | which toxin or sum, and which is part of which? |
//! | [`decisions`] | what does this result mean against this limit? |
//! | [`id`] | which kind of thing does this id name? |
//! | [`ledger`] | which bytes are hashed, signed and handed out, and do they hold? |
//! | [`quantity`] | how is a measured value written, parsed, converted and rounded? |
//! | [`certificates`] | what must a certificate say, and may it be issued? |
//! | [`time`] | how is a moment written? |
//! | [`faults`] | what is wrong with what was handed in, and where? |
//! | [`dilution`] | which factor do these volumes give, and what do they disagree with? |
//! | [`procedures`] | how is measured, within which range and tolerances? |
//! | [`kit_lots`] | which kit is it, may it be used, and how much is left? |
//! | [`runs`] | what did a reader give, and of which sample? |

pub mod analytes;
pub mod certificates;
pub mod decisions;
pub mod dilution;
pub mod faults;
pub mod id;
pub mod kit_lots;
pub mod ledger;
pub mod procedures;
pub mod quantity;
pub mod rounding;
pub mod runs;
pub mod time;
