//! The second person's signature: over exactly what they were shown, and never over their own work.
//!
//! Promises the four-eyes rule: who releases a result did not work, enter or correct any run that
//! it stands on. Refuses a release where an analyst is not known, where anything changed since it
//! was shown, or where a hold stands; each refusal names all results and runs that it is about.

use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::holds::{Hold, HoldDraft};
use crate::id::{AccountId, ResultId, RunId};
use crate::time::Moment;

/// Personal data and free text of a [`Review`].
pub const DISCLOSED: &[&str] = &["/comment"];

/// Most results under one signature: their records, and that of the review, fit in one act.
pub const MOST_RESULTS: usize = 100;

/// A signature, as it is recorded.
///
/// ```
/// use domain::reviews::{Meaning, Review};
/// let review: Review = serde_json::from_str(
///     r#"{"meaning":"release","reviewer":"019ca869-5003-7d46-b59c-6cf85cca57e4","results":[
///         {"result":"019ca869-5003-7d46-b59c-6cf85cca57e5","version":2}],
///         "signed_at":"2026-03-01T10:00:00Z"}"#)?;
/// assert_eq!(review.meaning, Meaning::Release);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Review {
    /// What the signature means.
    pub meaning: Meaning,
    /// Who signed.
    pub reviewer: AccountId,
    /// What was signed: exactly these versions, sorted by result.
    pub results: Vec<ReviewedResult>,
    /// When.
    pub signed_at: Moment,
    /// What the reviewer says to it (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}

/// What a signature means.
///
/// ```
/// use domain::reviews::Meaning;
/// assert_eq!(serde_json::to_string(&Meaning::Return)?, "\"return\"");
/// assert!(serde_json::from_str::<Meaning>("\"maybe\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Meaning {
    /// The results are final.
    Release,
    /// The analyst must look at them again.
    Return,
}

/// A result, in the version that the reviewer was shown.
///
/// ```
/// use domain::reviews::ReviewedResult;
/// let shown = serde_json::from_str::<ReviewedResult>(
///     r#"{"result":"019ca869-5003-7d46-b59c-6cf85cca57e5"}"#);
/// assert!(shown.is_err(), "a signature covers a version, not whatever is there");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReviewedResult {
    /// The result.
    pub result: ResultId,
    /// The version shown, from 1.
    pub version: u32,
}

/// A run that a result stands on, and whose work it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandingRun {
    /// The run.
    pub run: RunId,
    /// Who worked.
    pub analyst: Option<AccountId>,
    /// Who entered it, assigned it, or corrected it: in their own name or through a program.
    pub entered_by: Vec<AccountId>,
}

/// What is known about a result that is to be signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnderReview<'a> {
    /// The result.
    pub result: ResultId,
    /// The version that is the newest now.
    pub version: u32,
    /// The runs that it stands on.
    pub standing: Vec<StandingRun>,
    /// The holds that stand in its way.
    pub holds: Vec<&'a Hold>,
}

/// A result that changed since it was shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Changed {
    /// The result.
    pub result: ResultId,
    /// The version that was shown.
    pub shown: u32,
    /// The version that it has now.
    pub now: u32,
}

/// A result with what stands in its way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StillHeld {
    /// The result.
    pub result: ResultId,
    /// What its holds say, sorted.
    pub holds: Vec<HoldDraft>,
}

/// Why nothing is signed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReviewError {
    /// No result, one twice, too many, or a comment that is missing or no text.
    #[error("the review has faults")]
    Faults(#[from] Faults),
    /// Results that are not there.
    #[error("{} of the results are not there", .0.len())]
    NoSuchResults(Vec<ResultId>),
    /// Results that changed since they were shown: look at them again.
    #[error("{} of the results changed since they were shown: look at them again", .0.len())]
    Stale(Vec<Changed>),
    /// Runs whose analyst is not known: nobody can say that the reviewer is somebody else.
    #[error("the analyst of {} of the runs is not known: correct them first", .0.len())]
    UnknownAnalyst(Vec<RunId>),
    /// Runs that are the reviewer's own work.
    #[error("{} of the runs are the reviewer's own work: somebody else must sign", .0.len())]
    OwnWork(Vec<RunId>),
    /// Results that are still held.
    #[error("{} of the results are held: lift their holds first", .0.len())]
    Held(Vec<StillHeld>),
}

impl Review {
    /// The signature of a reviewer over what they were shown.
    ///
    /// `known` holds what is true of the results now. A release asks everything; a return asks
    /// only that nothing changed, and wants a comment that says what is to be looked at.
    ///
    /// # Errors
    /// [`ReviewError`]; the first kind of refusal that applies, with everything it is about.
    ///
    /// ```
    /// use domain::reviews::{
    ///     Meaning, Review, ReviewError, ReviewedResult, StandingRun, UnderReview,
    /// };
    /// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    /// let (analyst, reviewer) = (id.parse()?, "019ca869-5003-7d46-b59c-6cf85cca57e5".parse()?);
    /// let result = id.parse()?;
    /// let standing = StandingRun { run: id.parse()?, analyst: Some(analyst), entered_by: vec![] };
    /// let known = [UnderReview { result, version: 2, standing: vec![standing], holds: vec![] }];
    /// let shown = vec![ReviewedResult { result, version: 2 }];
    /// let at = "2026-03-01T10:00:00Z".parse()?;
    /// assert!(Review::sign(Meaning::Release, shown.clone(), &known, reviewer, at, None).is_ok());
    /// assert!(matches!(Review::sign(Meaning::Release, shown, &known, analyst, at, None),
    ///     Err(ReviewError::OwnWork(_))));
    /// let old = vec![ReviewedResult { result, version: 1 }];
    /// assert!(matches!(Review::sign(Meaning::Release, old, &known, reviewer, at, None),
    ///     Err(ReviewError::Stale(_))));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn sign(
        meaning: Meaning,
        shown: Vec<ReviewedResult>,
        known: &[UnderReview<'_>],
        reviewer: AccountId,
        signed_at: Moment,
        comment: Option<String>,
    ) -> Result<Self, ReviewError> {
        let mut results = shown;
        check(meaning, &results, comment.as_deref())?;
        results.sort_unstable();
        let reviewed = as_shown(&results, known)?;
        match meaning {
            Meaning::Release => {
                four_eyes(&reviewed, reviewer)?;
                not_held(&reviewed)?;
            }
            Meaning::Return => {}
        }
        Ok(Self {
            meaning,
            reviewer,
            results,
            signed_at,
            comment,
        })
    }
}

/// What is wrong with what was handed in.
fn check(meaning: Meaning, shown: &[ReviewedResult], comment: Option<&str>) -> Result<(), Faults> {
    let mut faults = Faults::default();
    let count = shown.len();
    faults.require(count > 0, "/results", || {
        "name the results that you were shown".into()
    });
    faults.require(count <= MOST_RESULTS, "/results", || {
        format!("{count} results; {MOST_RESULTS} are the most under one signature")
    });
    let ids: Vec<ResultId> = shown.iter().map(|one| one.result).collect();
    entries::distinct(&mut faults, "/results", &ids);
    entries::optional_text(&mut faults, "/comment", comment, entries::TEXT_LENGTH);
    faults.require(
        meaning == Meaning::Release || comment.is_some(),
        "/comment",
        || "say what the analyst is to look at".into(),
    );
    faults.into_result()
}

/// The results as they are now, where they are what was shown.
fn as_shown<'a, 'b>(
    shown: &[ReviewedResult],
    known: &'b [UnderReview<'a>],
) -> Result<Vec<&'b UnderReview<'a>>, ReviewError> {
    let now = |result: ResultId| known.iter().find(|one| one.result == result);
    let absent: Vec<ResultId> = shown
        .iter()
        .map(|one| one.result)
        .filter(|result| now(*result).is_none())
        .collect();
    if !absent.is_empty() {
        return Err(ReviewError::NoSuchResults(absent));
    }
    let pairs: Vec<_> = shown
        .iter()
        .filter_map(|one| now(one.result).map(|known| (one, known)))
        .collect();
    let changed: Vec<Changed> = pairs
        .iter()
        .filter(|(one, known)| one.version != known.version)
        .map(|(one, known)| Changed {
            result: one.result,
            shown: one.version,
            now: known.version,
        })
        .collect();
    if changed.is_empty() {
        Ok(pairs.into_iter().map(|(_, known)| known).collect())
    } else {
        Err(ReviewError::Stale(changed))
    }
}

fn four_eyes(reviewed: &[&UnderReview<'_>], reviewer: AccountId) -> Result<(), ReviewError> {
    let runs = || reviewed.iter().flat_map(|one| &one.standing);
    let unknown = sorted(runs().filter(|run| run.analyst.is_none()));
    if !unknown.is_empty() {
        return Err(ReviewError::UnknownAnalyst(unknown));
    }
    let own = sorted(
        runs().filter(|run| run.analyst == Some(reviewer) || run.entered_by.contains(&reviewer)),
    );
    if own.is_empty() {
        Ok(())
    } else {
        Err(ReviewError::OwnWork(own))
    }
}

fn sorted<'a>(runs: impl Iterator<Item = &'a StandingRun>) -> Vec<RunId> {
    let mut ids: Vec<RunId> = runs.map(|run| run.run).collect();
    ids.sort_unstable();
    ids.dedup();
    ids
}

fn not_held(reviewed: &[&UnderReview<'_>]) -> Result<(), ReviewError> {
    let held: Vec<StillHeld> = reviewed
        .iter()
        .filter(|one| !one.holds.is_empty())
        .map(|one| {
            let mut holds: Vec<HoldDraft> = one.holds.iter().map(|hold| hold.says()).collect();
            holds.sort_unstable();
            StillHeld {
                result: one.result,
                holds,
            }
        })
        .collect();
    if held.is_empty() {
        Ok(())
    } else {
        Err(ReviewError::Held(held))
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;
    use crate::holds::{Held, HoldKind};

    fn id<T: std::str::FromStr>(number: u8) -> T
    where
        T::Err: std::fmt::Debug,
    {
        format!("019ca869-5003-7d46-b59c-0000000000{number:02}")
            .parse()
            .unwrap()
    }

    const ANALYST: u8 = 1;
    const REVIEWER: u8 = 2;
    const CLERK: u8 = 3;

    fn result(number: u8) -> UnderReview<'static> {
        UnderReview {
            result: id(number),
            version: 3,
            standing: vec![StandingRun {
                run: id(number),
                analyst: Some(id(ANALYST)),
                entered_by: vec![id(CLERK)],
            }],
            holds: vec![],
        }
    }

    fn sign(
        meaning: Meaning,
        known: &[UnderReview<'_>],
        reviewer: u8,
        comment: Option<&str>,
    ) -> Result<Review, ReviewError> {
        let mut shown: Vec<ReviewedResult> = known
            .iter()
            .map(|one| ReviewedResult {
                result: one.result,
                version: 3,
            })
            .collect();
        shown.reverse();
        let at = "2026-03-01T10:00:00Z".parse().unwrap();
        Review::sign(
            meaning,
            shown,
            known,
            id(reviewer),
            at,
            comment.map(str::to_owned),
        )
    }

    #[test]
    fn a_list_is_signed_as_it_was_shown() {
        let review = sign(Meaning::Release, &[result(10), result(11)], REVIEWER, None).unwrap();
        let shown: Vec<_> = review.results.iter().map(|one| one.result).collect();
        assert_eq!(shown, [id(10), id(11)]);
    }

    #[test]
    fn who_worked_entered_or_corrected_a_run_does_not_release_it() {
        for person in [ANALYST, CLERK] {
            let refused = sign(Meaning::Release, &[result(10), result(11)], person, None);
            assert_eq!(refused, Err(ReviewError::OwnWork(vec![id(10), id(11)])));
        }
    }

    #[test]
    fn an_unknown_analyst_keeps_even_a_stranger_from_signing() {
        let mut known = result(10);
        known.standing.iter_mut().for_each(|run| run.analyst = None);
        let refused = sign(Meaning::Release, &[known, result(11)], REVIEWER, None);
        assert_eq!(refused, Err(ReviewError::UnknownAnalyst(vec![id(10)])));
    }

    #[test]
    fn what_changed_is_named_and_so_is_what_is_held() {
        let mut later = result(11);
        later.version = 4;
        let refused = sign(Meaning::Release, &[result(10), later], REVIEWER, None);
        let changed = Changed {
            result: id(11),
            shown: 3,
            now: 4,
        };
        assert_eq!(refused, Err(ReviewError::Stale(vec![changed])));

        let draft = HoldDraft::new(HoldKind::ExtractTooOld, "65 min; at most 60 min");
        let hold = Hold::raise(Held::Run(id(10)), None, draft.clone(), vec![]);
        let mut held = result(10);
        held.holds.push(&hold);
        let refused = sign(
            Meaning::Release,
            &[held.clone(), result(11)],
            REVIEWER,
            None,
        );
        let named = StillHeld {
            result: id(10),
            holds: vec![draft],
        };
        assert_eq!(refused, Err(ReviewError::Held(vec![named])));
        assert!(sign(Meaning::Return, &[held], REVIEWER, Some("Grind again.")).is_ok());
    }

    #[test]
    fn a_return_says_what_to_look_at_and_nothing_is_signed_twice() {
        let silent = sign(Meaning::Return, &[result(10)], REVIEWER, None);
        assert!(matches!(silent, Err(ReviewError::Faults(_))));
        assert!(matches!(
            sign(Meaning::Release, &[], REVIEWER, None),
            Err(ReviewError::Faults(_))
        ));
        let twice = sign(Meaning::Release, &[result(10), result(10)], REVIEWER, None);
        assert!(matches!(twice, Err(ReviewError::Faults(_))));
    }
}
