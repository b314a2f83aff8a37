//! Scores of a proficiency round: how far a result is from the assigned value, and whether the
//! uncertainties explain it.
//!
//! Promises each score that the inputs suffice for; refuses a score whose denominator is zero.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{float, not_negative, number, positive};
use super::error::{Answer, StatisticsError, at_least};

/// An uncertainty, and what it is multiplied with to be expanded.
///
/// ```
/// use domain::statistics::proficiency::StatedUncertainty;
/// let expanded = r#"{"expanded":"0.19","coverage_factor":"2"}"#;
/// assert!(serde_json::from_str::<StatedUncertainty>(expanded).is_ok());
/// assert!(serde_json::from_str::<StatedUncertainty>(r#"{"u":"0.1"}"#).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(untagged, deny_unknown_fields)]
pub enum StatedUncertainty {
    /// A standard uncertainty.
    Standard {
        /// One standard deviation.
        standard: Number,
        /// What it is multiplied with for En; 2 unless another is given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        coverage_factor: Option<Number>,
    },
    /// An expanded uncertainty with its own coverage factor.
    Expanded {
        /// U.
        expanded: Number,
        /// k; 2 unless another is given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        coverage_factor: Option<Number>,
    },
}

impl StatedUncertainty {
    /// Standard and expanded.
    fn both(self, of: &str) -> Answer<(f64, f64)> {
        let k = |given: Option<Number>| {
            given.map_or(Ok(2.0), |k| {
                positive(&format!("coverage factor of {of}"), k)
            })
        };
        match self {
            Self::Standard {
                standard,
                coverage_factor,
            } => {
                let u = not_negative(of, standard)?;
                Ok((u, u * k(coverage_factor)?))
            }
            Self::Expanded {
                expanded,
                coverage_factor,
            } => {
                let whole = not_negative(of, expanded)?;
                Ok((whole / k(coverage_factor)?, whole))
            }
        }
    }
}

/// The standard deviation for proficiency assessment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum AssessmentDeviation {
    /// In the unit of the results.
    Absolute(Number),
    /// As a share of the assigned value, such as 0.22.
    Relative(Number),
}

/// One participant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ParticipantResult {
    /// What it reported.
    pub value: Number,
    /// With which uncertainty, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<StatedUncertainty>,
}

/// A round: assigned value and results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ProficiencyRound {
    /// The assigned value.
    pub assigned_value: Number,
    /// Its uncertainty, if stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assigned_uncertainty: Option<StatedUncertainty>,
    /// The standard deviation for proficiency assessment; without it there is no z.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assessment_deviation: Option<AssessmentDeviation>,
    /// The participants.
    pub results: Vec<ParticipantResult>,
}

/// What a z, z' or zeta says (ISO 13528:2015, 9.4.2).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ScoreVerdict {
    /// Up to 2 on either side.
    Satisfactory,
    /// Beyond 2, below 3.
    Questionable,
    /// 3 and beyond.
    Unsatisfactory,
}

/// A score and what it says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Score {
    /// The score.
    pub value: Number,
    /// What it says.
    pub verdict: ScoreVerdict,
}

/// An En number and what it says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct EnNumber {
    /// The number.
    pub value: Number,
    /// Whether it is at most 1 on either side.
    pub satisfactory: bool,
}

/// One participant's scores, those that the inputs suffice for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ParticipantScores {
    /// Result less assigned value.
    pub difference: Number,
    /// (x - X)/sigma.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z: Option<Score>,
    /// (x - X)/root(sigma² + u(X)²).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z_prime: Option<Score>,
    /// (x - X)/root(u(x)² + u(X)²), standard uncertainties.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub zeta: Option<Score>,
    /// (x - X)/root(U(x)² + U(X)²), expanded uncertainties.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub en: Option<EnNumber>,
}

/// The round's figures.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ProficiencyScores {
    /// Standard deviation for proficiency assessment, in the unit of the results.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_pt: Option<Number>,
    /// Standard uncertainty of the assigned value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub u_assigned: Option<Number>,
    /// Whether it is at most 0.3 sigma, so that z serves (ISO 13528:2015, 9.2.1).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uncertainty_negligible: Option<bool>,
    /// In the order of the input.
    pub participants: Vec<ParticipantScores>,
}

/// Scores of a proficiency round: ISO 13528:2015, 9.4 to 9.7.
///
/// # Errors
/// [`StatisticsError::TooFew`] without a result; [`StatisticsError::OutOfRange`] for a negative
/// uncertainty or a standard deviation of zero; [`StatisticsError::Pole`] for a zeta or En whose
/// uncertainties are both zero.
///
/// ```
/// use domain::statistics::proficiency::{ProficiencyRound, proficiency_scores};
/// let round = |sigma: &str| serde_json::from_str::<ProficiencyRound>(&format!(
///     r#"{{"assigned_value":"2.8","assessment_deviation":{{"relative":"{sigma}"}},
///     "results":[{{"value":"3.5"}}]}}"#));
/// let scores = proficiency_scores(&round("0.25")?).unwrap();
/// assert_eq!(scores.participants[0].z.unwrap().value.to_string(), "1");
/// assert!(proficiency_scores(&round("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn proficiency_scores(round: &ProficiencyRound) -> Answer<ProficiencyScores> {
    at_least("results", round.results.len(), 1)?;
    let assigned = float(round.assigned_value);
    let sigma = match round.assessment_deviation {
        None => None,
        Some(AssessmentDeviation::Absolute(sigma)) => Some(positive("sigma_pt", sigma)?),
        Some(AssessmentDeviation::Relative(share)) => {
            positive("assigned value", round.assigned_value)?;
            Some(positive("sigma_pt", share)? * assigned)
        }
    };
    let of_assigned = round
        .assigned_uncertainty
        .map(|stated| stated.both("uncertainty of the assigned value"))
        .transpose()?;
    let negligible = sigma
        .zip(of_assigned)
        .map(|(sigma, (u, _))| number("u(X)/sigma_pt", u / sigma))
        .transpose()?
        .map(|ratio| ratio.0 <= Decimal::new(3, 1));
    let one = |result: &ParticipantResult| scores(result, assigned, sigma, of_assigned);
    Ok(ProficiencyScores {
        sigma_pt: sigma.map(|sigma| number("sigma_pt", sigma)).transpose()?,
        u_assigned: of_assigned.map(|(u, _)| number("u(X)", u)).transpose()?,
        uncertainty_negligible: negligible,
        participants: round.results.iter().map(one).collect::<Answer<_>>()?,
    })
}

fn scores(
    result: &ParticipantResult,
    assigned: f64,
    sigma: Option<f64>,
    of_assigned: Option<(f64, f64)>,
) -> Answer<ParticipantScores> {
    let difference = float(result.value) - assigned;
    let own = result
        .uncertainty
        .map(|stated| stated.both("uncertainty of the result"))
        .transpose()?;
    let over = |name: &str, one: f64, other: f64| {
        let below = one.hypot(other);
        if below <= 0.0 {
            return Err(StatisticsError::pole(name, "both uncertainties are zero"));
        }
        Ok(difference / below)
    };
    let scored = |name: &str, pair: Option<(f64, f64)>| {
        pair.map(|(one, other)| score(name, over(name, one, other)?))
            .transpose()
    };
    let en = match own.zip(of_assigned) {
        None => None,
        Some(((_, one), (_, other))) => {
            let value = number("En", over("En", one, other)?)?;
            Some(EnNumber {
                value,
                satisfactory: value.0.abs() <= Decimal::ONE,
            })
        }
    };
    Ok(ParticipantScores {
        difference: number("difference", difference)?,
        z: scored("z", sigma.map(|sigma| (sigma, 0.0)))?,
        z_prime: scored("z'", sigma.zip(of_assigned.map(|(u, _)| u)))?,
        zeta: scored("zeta", own.map(|(u, _)| u).zip(of_assigned.map(|(u, _)| u)))?,
        en,
    })
}

fn score(name: &str, value: f64) -> Answer<Score> {
    // Judged as it is shown, so that a score of 2 is not beyond 2 by a binary place.
    let value = number(name, value)?;
    let verdict = if value.0.abs() <= Decimal::TWO {
        ScoreVerdict::Satisfactory
    } else if value.0.abs() < Decimal::from(3) {
        ScoreVerdict::Questionable
    } else {
        ScoreVerdict::Unsatisfactory
    };
    Ok(Score { value, verdict })
}
