//! The rules of Assize: what a strip test's number means, what may be released, what is recorded.
//!
//! Pure functions over facts: no I/O, clock, randomness or panic. Every measurement is an exact
//! decimal; binary floating point lives in `statistics` alone.
//!
//! | room | question it answers |
//! |---|---|
//! | [`analytes`] | which toxin or sum, and which is part of which? |
//! | [`assessment`] | what do the records of a sample come to, and from which versions? |
//! | [`commodities`] | what is a good, and what is it meant for? |
//! | [`column_maps`] | how is one reader's export read? |
//! | [`decisions`] | what does this result mean against this limit? |
//! | [`id`] | which kind of thing does this id name? |
//! | [`imports`] | which runs does an export tell, and what of it cannot be read? |
//! | [`ledger`] | which bytes are hashed, signed and handed out, and do they hold? |
//! | [`quantity`] | how is a measured value written, parsed, converted and rounded? |
//! | [`certificates`] | what must a certificate say, and may it be issued? |
//! | [`limits`] | what is allowed, by whom, for which goods, since when? |
//! | [`permitted_uses`] | where may a load still go? |
//! | [`rounding`] | to which neighbour, and what at a tie? |
//! | [`time`] | how is a moment written? |
//! | [`identity`] | who may do what? |
//! | [`faults`] | what is wrong with what was handed in, and where? |
//! | [`correctable`] | which records may be corrected, and what in them never changes? |
//! | [`reviews`] | may this person release these results, as they were shown? |
//! | [`versions`] | which version of which thing? |
//! | [`quality_control`] | do the controls of a series cover this run? |
//! | [`holds`] | what stands between a result and its release? |
//! | [`series`] | which runs share their controls? |
//! | [`control_charts`] | is the method today what it was, by the control runs recorded? |
//! | [`control_materials`] | what should a control run give? |
//! | [`equipment`] | is it good, and since when is it in doubt? |
//! | [`readers`] | which ports, curves and faults has the instrument? |
//! | [`preparations`] | what was made from the sample, in which order? |
//! | [`samples`] | what is measured, for which purpose, and where was it? |
//! | [`samplings`] | how were the increments taken? |
//! | [`sampling_plans`] | how many increments does a lot take, and were they taken? |
//! | [`sampling_variance`] | how far may a result lie from its lot, and what does a plan accept? |
//! | [`screening_validations`] | where is the cut-off, and how often is it wrong? |
//! | [`lots`] | which goods, and who may see what of them? |
//! | [`orders`] | what was asked for, and which rule was agreed? |
//! | [`customers`] | who orders? |
//! | [`sites`] | where is work done, and what does its bench fill in? |
//! | [`entries`] | what must a code, a name, free text, an amount look like? |
//! | [`dilution`] | which factor do these volumes give, and what do they disagree with? |
//! | [`procedures`] | how is measured, within which range and tolerances? |
//! | [`kit_lots`] | which kit is it, may it be used, and how much is left? |
//! | [`runs`] | what did a reader give, and of which sample? |
//! | [`signals`] | does a reader's number follow from the signals of its strip? |
//! | [`results`] | what do a sample's runs come to, and what is due next? |
//! | [`uncertainty`] | which lines make up the doubt of a number, and what do they come to? |
//! | [`statistics`] | how sure is a number, and how does a laboratory know? |

pub mod accounts;
pub mod analytes;
pub mod assessment;
pub mod certificates;
pub mod column_maps;
pub mod commodities;
pub mod control_charts;
pub mod control_materials;
pub mod correctable;
pub mod corrections;
pub mod customers;
pub mod decisions;
pub mod dilution;
pub mod entries;
pub mod equipment;
pub mod erasures;
pub mod faults;
pub mod holds;
pub mod id;
pub mod identity;
pub mod imports;
pub mod kit_lots;
pub mod laboratories;
pub mod ledger;
pub mod limits;
pub mod lots;
pub mod orders;
pub mod permitted_uses;
pub mod preparations;
pub mod procedures;
pub mod quality_control;
pub mod quantity;
pub mod readers;
pub mod results;
pub mod reviews;
pub mod rounding;
pub mod runs;
pub mod samples;
pub mod sampling_plans;
pub mod sampling_variance;
pub mod samplings;
pub mod screening_validations;
pub mod series;
pub mod signals;
pub mod sites;
pub mod statistics;
pub mod time;
pub mod uncertainty;
pub mod versions;
