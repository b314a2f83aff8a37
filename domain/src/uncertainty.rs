//! How sure a number is: budgets line by line, and what they are made of.
//!
//! Promises that parts are combined unrounded and rounded once, that every line says where it
//! comes from, and that the intermediate figures stand beside the last one. Refuses, naming the
//! quantity, what has no finite uncertainty. Sources: JCGM 100:2008 (GUM) and QUAM:2012.P1
//! (EURACHEM/CITAC Guide CG 4, 3rd edition).
//!
//! | room | question it answers |
//! |---|---|
//! | [`doubt`] | which standard uncertainty does a tolerance, a certificate or a scatter give? |
//! | [`budget`] | what do lines with sensitivities come to? |
//! | [`coverage`] | how many degrees of freedom, and which k? |
//! | [`product`] | what do factors of a product come to? |
//! | [`dilution`] | how sure is a dilution factor? |
//! | [`tolerances`] | what do standards allow a pipette, a cylinder? |
//! | [`balances`] | what does a standard allow a balance? |
//! | [`recovery`] | is a recovery different from one, and what does correcting for it add? |
//! | [`combination`] | what do several results of one thing come to? |
//! | [`bias`] | what does control material say of the bias? |
//! | [`of_result`] | what is the budget of a strip test's result? |

pub mod balances;
pub mod bias;
pub mod budget;
pub mod combination;
pub mod coverage;
pub mod dilution;
pub mod doubt;
pub mod of_result;
pub mod product;
pub mod recovery;
pub mod tolerances;

pub use coverage::{Coverage, CoverageUsed};
pub use doubt::{Doubt, Shape};

#[cfg(test)]
mod tests;
