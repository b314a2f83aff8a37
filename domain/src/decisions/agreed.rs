//! A decision rule in words, and from the code that an order agreed on.
//!
//! Promises the level of risk with every rule (ISO/IEC 17025:2017, 7.8.6.1); refuses to screen
//! without a cut-off.

use rust_decimal::Decimal;

use crate::orders::AgreedRule;
use crate::procedures::ScreeningCutOff;
use crate::quantity::Number;
use crate::rounding::TieRule;

use super::DecisionRule;

impl DecisionRule {
    /// The rule that an order agreed on, with what the procedure adds to it: its tie rule, its
    /// cut-off and, where it states one, the screening target. The guard factor is 1. None where
    /// it is to be screened without a cut-off.
    ///
    /// ```
    /// use domain::decisions::DecisionRule;
    /// use domain::orders::AgreedRule;
    /// use domain::rounding::TieRule;
    /// let agreed = |rule| DecisionRule::agreed(rule, TieRule::HalfEven, None);
    /// assert_eq!(agreed(AgreedRule::Simple), Some(DecisionRule::Simple));
    /// assert_eq!(agreed(AgreedRule::Screening), None);
    /// ```
    #[must_use]
    pub fn agreed(
        agreed: AgreedRule,
        tie: TieRule,
        screening: Option<&ScreeningCutOff>,
    ) -> Option<Self> {
        let guard_factor = Number(Decimal::ONE);
        match agreed {
            AgreedRule::Simple => Some(Self::Simple),
            AgreedRule::Rounded => Some(Self::Rounded { tie }),
            AgreedRule::GuardedAcceptance => Some(Self::GuardedAcceptance { guard_factor }),
            AgreedRule::GuardedRejection => Some(Self::GuardedRejection { guard_factor }),
            AgreedRule::NonBinary => Some(Self::NonBinary { guard_factor }),
            AgreedRule::Screening => screening.map(|one| Self::Screening {
                target: one.target,
                cut_off: one.cut_off,
            }),
        }
    }

    /// The rule's name, for people, with its source.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Simple => "simple acceptance (ILAC-G8)",
            Self::Rounded { .. } => "rounded comparison (ASTM E29)",
            Self::GuardedAcceptance { .. } => "guarded acceptance (ILAC-G8)",
            Self::GuardedRejection { .. } => {
                "rejection only beyond reasonable doubt (Implementing Regulation (EU) 2023/2782)"
            }
            Self::NonBinary { .. } => "non-binary statement (ILAC-G8)",
            Self::Screening { .. } => "screening (Implementing Regulation (EU) 2023/2782)",
        }
    }

    /// The rule's code, as records and certificates write it.
    ///
    /// ```
    /// assert_eq!(domain::decisions::DecisionRule::Simple.code(), "simple");
    /// ```
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Simple => "simple",
            Self::Rounded { .. } => "rounded",
            Self::GuardedAcceptance { .. } => "guarded-acceptance",
            Self::GuardedRejection { .. } => "guarded-rejection",
            Self::NonBinary { .. } => "non-binary",
            Self::Screening { .. } => "screening",
        }
    }

    /// The rule in words, with the risk that it takes (ISO/IEC 17025:2017, 7.8.6.1). Risks:
    /// ILAC-G8:09/2019, table of decision rules; with k = 2 and r = 1 exactly 2.275 %.
    ///
    /// ```
    /// assert!(domain::decisions::DecisionRule::Simple.words().contains("50 %"));
    /// ```
    #[must_use]
    pub const fn words(&self) -> &'static str {
        match self {
            Self::Simple => {
                "The value is compared with the limit as it is, without a guard band. Close to \
                 the limit the risk of a wrong pass or a wrong fail is up to 50 %."
            }
            Self::Rounded { .. } => {
                "The value is rounded to the places of the limit, then compared, without a guard \
                 band. A value that rounding brings to the limit passes; close to the limit the \
                 risk of a wrong pass is 50 % or more."
            }
            Self::GuardedAcceptance { .. } => {
                "The value passes only where it lies a guard band, r times its expanded \
                 uncertainty, below the limit. With r = 1 and k = 2 the risk of a wrong pass is \
                 below 2.5 %."
            }
            Self::GuardedRejection { .. } => {
                "The value fails only where it lies a guard band, r times its expanded \
                 uncertainty, above the limit: beyond reasonable doubt. With r = 1 and k = 2 the \
                 risk of a wrong fail is below 2.5 %; a pass may lie over the limit."
            }
            Self::NonBinary { .. } => {
                "Pass and fail are stated only a guard band, r times the expanded uncertainty, \
                 away from the limit; between them the statement is conditional. With r = 1 and \
                 k = 2 the risk of a wrong pass or fail is below 2.5 %, that of a conditional \
                 statement up to 50 %."
            }
            Self::Screening { .. } => {
                "A value over the cut-off is suspect and goes to a confirmatory method; any other \
                 is negative. The cut-off is validated so that a sample at the screening target \
                 is called negative in at most 5 % of cases."
            }
        }
    }
}
