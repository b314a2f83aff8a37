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

pub mod analytes;
pub mod certificates;
pub mod decisions;
pub mod faults;
pub mod id;
pub mod ledger;
pub mod quantity;
pub mod time;
