//! Every kind of hold: what it means, what lifts it, and whether a reviewer may accept it.

use serde::{Deserialize, Serialize};

/// Whether a kind of hold concerns a run or a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Concerns {
    /// One run, and the results that it stands in.
    Run,
    /// One result.
    Result,
    /// Either, or a whole sample.
    Any,
    /// A sample, and with it every result of it.
    Sample,
}

/// What one kind of hold says to people.
struct Sheet {
    word: &'static str,
    explanation: &'static str,
    remedy: &'static str,
    acceptable: bool,
}

/// A row of the table of kinds: word, explanation, remedy, whether a reviewer may accept it.
const fn sheet(
    word: &'static str,
    explanation: &'static str,
    remedy: &'static str,
    acceptable: bool,
) -> Sheet {
    Sheet {
        word,
        explanation,
        remedy,
        acceptable,
    }
}

macro_rules! kinds {
    ($($name:ident $concerns:ident $word:literal, $explanation:literal, $remedy:literal,
       $acceptable:literal;)*) => {
        /// What is amiss with a run or a result.
        ///
        /// ```
        /// use domain::holds::{Concerns, HoldKind};
        /// assert_eq!(HoldKind::ControlOut.word(), "control-out");
        /// assert_eq!(HoldKind::Contradiction.concerns(), Concerns::Result);
        /// assert!(HoldKind::ExtractTooOld.acceptable());
        /// assert!(!HoldKind::AnalystUnknown.acceptable());
        /// assert!(serde_json::from_str::<HoldKind>("\"bad-mood\"").is_err());
        /// ```
        #[derive(
            Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
        )]
        #[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
        #[serde(rename_all = "kebab-case")]
        pub enum HoldKind {
            $(#[doc = $explanation] $name,)*
        }

        impl HoldKind {
            /// Every kind, in the order of the table.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            const fn sheet(self) -> Sheet {
                match self {
                    $(Self::$name => sheet($word, $explanation, $remedy, $acceptable),)*
                }
            }

            /// Whether it concerns a run or a result.
            #[must_use]
            pub const fn concerns(self) -> Concerns {
                match self { $(Self::$name => Concerns::$concerns,)* }
            }
        }
    };
}

kinds! {
    NoSample Run "no-sample", "The run names no sample, so nobody can say what was measured.",
        "Assign the run to its sample.", false;
    KitLotUnknown Run "kit-lot-unknown", "The kit lot is not recorded here.",
        "Record the kit lot, or correct the run.", false;
    KitLotMismatch Run "kit-lot-mismatch",
        "What was read of the kit lot is not what the lot named says.",
        "Correct the run's kit lot, or what is recorded of the lot.", false;
    KitLotExpired Run "kit-lot-expired", "The kit lot was used after its last day.",
        "Run again with a lot that is in date, or correct the lot or the time read.", true;
    KitLotStorage Run "kit-lot-storage", "The kit lot was kept outside its storage conditions.",
        "Run again with another lot, or correct the receipt.", true;
    KitLotNotAccepted Run "kit-lot-not-accepted",
        "The kit lot is in quarantine, rejected or recalled.",
        "Accept the lot on its acceptance runs, or run again with an accepted one.", false;
    ReagentExpired Run "reagent-expired", "A liquid or packet was used after its last day.",
        "Run again with one that is in date, or correct what was used.", true;
    ReaderUnknown Run "reader-unknown", "The reader is not recorded here.",
        "Record the reader, or correct the run.", false;
    EquipmentOverdue Run "equipment-overdue",
        "Equipment was used after its calibration or check was due.",
        "Record the check that was made in time, or run again on equipment in date.", true;
    EquipmentFailed Run "equipment-failed",
        "Equipment was used between its last good check and a failed one, or while out of use.",
        "Run again on good equipment; a reviewer may accept with the assessment of its effect.",
        true;
    PortFault Run "port-fault", "The reader's port is recorded as faulty at that time.",
        "Run again on another port, or correct the record of the fault.", true;
    CurveMismatch Run "curve-mismatch", "The reader used the curve of another lot.",
        "Run again with the curve of the kit lot, or correct the run.", false;
    MatrixMismatch Run "matrix-mismatch", "The reader's matrix is none of the kit lot's curve.",
        "Run again with the right matrix, or correct the run.", true;
    ProcedureMissing Run "procedure-missing",
        "No procedure is named, so neither range nor rounding is known.",
        "Correct the run: name the procedure that was worked by.", false;
    ProcedureNotAdopted Run "procedure-not-adopted",
        "The procedure was not in force on the day of the run.",
        "Adopt the procedure, or correct the run or its time.", true;
    CommodityNotValidated Run "commodity-not-validated",
        "The procedure is not validated for the sample's commodity.",
        "Correct the sample or the procedure; a reviewer may accept what a validation supports.",
        true;
    AnalyteNotValidated Run "analyte-not-validated",
        "The procedure has no measuring range for the analyte.",
        "Amend the procedure, or correct the run.", false;
    DilutionNotValidated Run "dilution-not-validated",
        "The dilution is none of those that the procedure validates.",
        "Run again with a validated dilution, or correct the volumes.", true;
    FactorDisagreement Run "factor-disagreement",
        "Volumes, stated factor and values do not agree; nothing was repaired.",
        "Correct the volumes, the factor or the values.", false;
    PreparationMissing Run "preparation-missing",
        "A step or an amount that the procedure limits was not recorded.",
        "Record the preparation and name the run's extract.", true;
    PreparationOutOfTolerance Run "preparation-out-of-tolerance",
        "A step of the preparation lies outside the procedure's tolerances.",
        "Prepare and run again, or correct what was recorded.", true;
    ExtractTooOld Run "extract-too-old", "The extract was older than the procedure allows.",
        "Run again with a fresh extract, or correct the times.", true;
    ReadOutsideWindow Run "read-outside-window",
        "The strip was read too early or too late after the run began.",
        "Run again, or correct the times.", true;
    ClockAhead Run "clock-ahead", "The time read lies in the future of the recording.",
        "Set the reader's clock and correct the time read.", true;
    SignalDisagreement Run "signal-disagreement",
        "The reader's number does not follow from the signals of its strip by the kit lot's curve.",
        "Correct the signals, the value or the lot's curve, or run again.", true;
    InvalidReading Run "invalid-reading", "The reader gave no valid reading; it is never used.",
        "Run again.", false;
    ControlMissing Run "control-missing", "No accepted control run covers the run.",
        "Record the control run of the series, or run again with one.", true;
    ControlOut Run "control-out", "The control run that covers the run is outside its window.",
        "Find the cause, then run control and sample again.", true;
    ControlRule Run "control-rule",
        "The control run beside it completes a rule over the control runs of its group.",
        "Find the cause, then run control and sample again.", true;
    AnalystUnknown Run "analyst-unknown",
        "Who worked is not known, so nobody can say that the reviewer is somebody else.",
        "Correct the run: name the analyst's account.", false;
    AnalystNotAuthorised Run "analyst-not-authorised",
        "The analyst was not authorised for the procedure on that day.",
        "Record the authorisation that was in force; a reviewer may accept supervised work.", true;
    OriginDifference Run "origin-difference",
        "What was typed at the bench and what the reader exported differ.",
        "Correct the run to what the reader shows.", true;
    ReplicateDisagreement Result "replicate-disagreement",
        "Replicates differ by more than the critical range of ISO 5725-6.",
        "Make the further determinations that the standard prescribes.", true;
    Contradiction Result "contradiction",
        "A diluted run lies below what the over-range run said it must exceed.",
        "Run again, or correct or withdraw the run that is wrong.", true;
    NoDilution Result "no-dilution",
        "A number is due above the range, and no validated dilution reaches it.",
        "Validate a dilution that does, or agree with the customer that the bound is enough.",
        true;
    Unreportable Result "unreportable", "The procedure's rule cannot round the value.",
        "Amend the procedure's rounding.", false;
    SamplingDeparture Sample "sampling-departure",
        "What was taken from the lot is not what the plan that the sampling names asks for.",
        "Correct the sampling, its sample or its lot; a reviewer may accept the departure, which the \
         certificate then states.",
        true;
    ComputationDue Result "computation-due",
        "Something the result depends on changed; it is not computed again yet.",
        "Nothing to do: it is lifted as soon as the result is computed again.", false;
    PlacedByPerson Any "placed-by-person", "A person stopped the release, for the reason given.",
        "Settle what the reason says; a reviewer then accepts, saying how.", true;
}

impl HoldKind {
    /// The word in records and addresses.
    #[must_use]
    pub const fn word(self) -> &'static str {
        self.sheet().word
    }

    /// What it means, for people.
    #[must_use]
    pub const fn explanation(self) -> &'static str {
        self.sheet().explanation
    }

    /// What lifts it, for people.
    #[must_use]
    pub const fn remedy(self) -> &'static str {
        self.sheet().remedy
    }

    /// Whether a reviewer may lift it with a reason.
    #[must_use]
    pub const fn acceptable(self) -> bool {
        self.sheet().acceptable
    }
}

impl std::fmt::Display for HoldKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.word())
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn a_word_is_the_wire_name_and_no_two_kinds_share_one() {
        let mut words: Vec<_> = HoldKind::ALL.iter().map(|kind| kind.word()).collect();
        for kind in HoldKind::ALL {
            let wire = serde_json::to_string(kind).unwrap();
            assert_eq!(wire, format!("\"{}\"", kind.word()));
        }
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), HoldKind::ALL.len());
    }

    #[test]
    fn what_nobody_may_accept() {
        let never: Vec<_> = HoldKind::ALL
            .iter()
            .filter(|kind| !kind.acceptable())
            .collect();
        for kind in [
            HoldKind::AnalystUnknown,
            HoldKind::NoSample,
            HoldKind::ComputationDue,
            HoldKind::InvalidReading,
            HoldKind::KitLotNotAccepted,
        ] {
            assert!(never.contains(&&kind), "{kind}");
        }
    }
}
