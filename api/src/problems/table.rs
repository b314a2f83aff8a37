//! The kinds of refusals, in their own words.

/// A kind of refusal.
pub(super) struct Problem {
    /// The last part of its address.
    pub(super) slug: &'static str,
    /// What it means.
    pub(super) meaning: &'static str,
    /// What to do.
    pub(super) remedy: &'static str,
}

const fn problem(slug: &'static str, meaning: &'static str, remedy: &'static str) -> Problem {
    Problem {
        slug,
        meaning,
        remedy,
    }
}

/// Every kind of refusal, the general ones first.
pub(super) const PROBLEMS: &[Problem] = &[
    problem(
        "not-signed-in",
        "The request carries no token, one that is past its fifteen minutes, or credentials that \
         do not go together.",
        "Sign in, and send the new token in the header Authorization: Bearer. A program posts its \
         client id and secret to …/tokens.",
    ),
    problem(
        "not-permitted",
        "You are signed in, but your roles do not allow this, or the thing belongs to another \
         laboratory than yours.",
        "The refusal names the role that may do it. Ask somebody who has it, or the administrator.",
    ),
    problem(
        "log-suspended",
        "The laboratory's log is behind what was signed of it: the database was put back to an \
         older state. Nothing is written, so that nobody can take the shorter log for the whole; \
         reads go on.",
        "Tell the quality manager, who states what happened at POST …/logs. Then the next log \
         begins, and what was refused can be sent again.",
    ),
    problem(
        "log-goes-on",
        "A new log was asked for, but the laboratory's log can be continued.",
        "Nothing needs to be done. A new log begins only after the database was put back to an \
         older state.",
    ),
    problem(
        "not-found",
        "There is nothing at this address in this laboratory. Things of other laboratories look \
         the same as things that do not exist.",
        "Look up the id in the list of its kind.",
    ),
    problem(
        "malformed",
        "The request cannot be read at all: broken JSON, a member given twice, an upload that was \
         cut short, a header or query that does not say what it should.",
        "Mend what the detail names and send it again.",
    ),
    problem(
        "invalid-fields",
        "The request can be read, but fields of it cannot be taken as they are: missing, outside \
         what is possible, or naming something that is not here.",
        "Each entry of errors names a field by its JSON pointer, the value, and what to do. Mend \
         all of them and send it again.",
    ),
    problem(
        "duplicate",
        "Something else in this laboratory has the same code, number, login or barcode.",
        "Use the one that is there, or choose another code.",
    ),
    problem(
        "stale-version",
        "Somebody changed the thing since you saw it, so that your change would have overwritten \
         theirs unseen.",
        "Look at it again, decide again, and send the ETag of what you saw now in If-Match.",
    ),
    problem(
        "version-required",
        "The request changes something that has versions, and does not say which one you saw.",
        "Send the ETag that came with it in the header If-Match.",
    ),
    problem(
        "idempotency-key-missing",
        "A POST must say by which key a repeat of it can be told from a second one.",
        "Send the header Idempotency-Key with a random value of your own, the same again when you \
         repeat the request.",
    ),
    problem(
        "idempotency-key-reused",
        "The Idempotency-Key came before, with another body.",
        "To repeat the first request send its very body; for another one choose a new key.",
    ),
    problem(
        "request-in-flight",
        "The first request with this Idempotency-Key is still being done.",
        "Repeat it after the seconds that Retry-After says: you get the first one's answer.",
    ),
    problem(
        "too-large",
        "The body is larger than is taken at this address.",
        "Split it; readings in bulk are posted as an import.",
    ),
    problem(
        "unsupported-media-type",
        "The body is of a kind that is not taken here.",
        "Send the media type that the detail names.",
    ),
    problem(
        "too-many-attempts",
        "Ten passwords in a row were refused, at sign-in or for a signature, so that none is taken for fifteen minutes.",
        "Wait for the seconds that Retry-After says. If it was not you, tell the administrator.",
    ),
    problem(
        "unavailable",
        "The database cannot be reached, or gave up in the middle. Nothing of the request was \
         kept.",
        "Send the same request with the same Idempotency-Key again after the seconds that \
         Retry-After says.",
    ),
    problem(
        "internal",
        "A fault of the service itself. Nothing of the request was kept; the cause stands in the \
         service's log.",
        "Send it once more. If it happens again, tell whoever operates the service when it \
         happened.",
    ),
    problem(
        "not-correctable",
        "The correction changes what is never changed: a member that stays as it was first \
         recorded, or a record that follows from others or is a signature.",
        "Leave such members as they are; where one is wrong, withdraw the thing and record \
         another. What follows from others is computed again once those are corrected.",
    ),
    problem(
        "nothing-changes",
        "The correction says what is recorded already.",
        "Look at the newest version: somebody may have corrected it before you.",
    ),
    problem(
        "procedure-state",
        "A procedure is drafted, adopted, and retired, in this order; what you asked for does not \
         follow from the state that it is in.",
        "Look at its state. A retired procedure stays so: draft another.",
    ),
    problem(
        "kit-lot-state",
        "A kit lot is quarantined, then accepted or rejected, and in the end exhausted or \
         recalled; what you asked for does not follow from the state that it is in, or tests of \
         it are left.",
        "Look at its state and at the tests that are left by the count of its runs.",
    ),
    problem(
        "kit-lot-comparison",
        "The procedure states how far a new kit lot may lie from the one in use, and the \
         acceptance names no comparison, or one that does not bear it out: the difference is too \
         large, or there are too few pairs of runs.",
        "Run the same samples on both lots and look at the comparison; name the lot in use and the \
         runs of both. Give a reason where the lot is accepted all the same, or reject it.",
    ),
    problem(
        "no-lot-mass",
        "How many increments are taken of a lot, and what mass, depends on the lot's mass, which is \
         not recorded.",
        "Record the mass of the lot, then ask again.",
    ),
    problem(
        "curve-loaded",
        "The reader has the curve of this lot for this matrix loaded already.",
        "Look at the reader's curves. If the time or the person is wrong there, revise the reader.",
    ),
    problem(
        "port-unchanged",
        "The port is recorded as faulty already, or was not faulty when it is said to be mended.",
        "Look at the reader's port faults. If one is wrong there, revise the reader.",
    ),
    problem(
        "stock-not-kept",
        "Nothing can be taken from the stock of a control material whose mass is not kept.",
        "Revise the material with the mass that is left, then record what is taken.",
    ),
    problem(
        "stock-too-small",
        "More was asked for than is left of the control material.",
        "Weigh what is left; if the record is wrong, revise the material.",
    ),
    problem(
        "screening-validation-state",
        "A validation is drafted, adopted and withdrawn, in this order, while its law may be used.",
        "Look at its state; where a procedure decides by it, revise that first.",
    ),
    problem(
        "series-state",
        "The series is closed already, or would close before it was opened.",
        "Look at the series. A closed one stays so: open another.",
    ),
    problem(
        "never-changes",
        "The correction changes a member that never changes once it is recorded, such as a code or \
         what a thing belongs to.",
        "Leave that member as it is; where it is wrong, withdraw the thing and record another.",
    ),
    problem(
        "run-state",
        "The run's state does not allow this: what is withdrawn stays withdrawn, and what was \
         never begun is not completed.",
        "Look at the run's newest version, and at its state.",
    ),
    problem(
        "result-state",
        "The result's state does not allow this.",
        "Look at the result's newest version: it may have been released, returned or cancelled \
         meanwhile.",
    ),
    problem(
        "not-in-this-state",
        "The state of the thing does not allow this. Nothing was changed and nothing signed.",
        "Look at its newest version, then decide again.",
    ),
    problem(
        "not-released",
        "This is said of released results only, and the result was not released yet.",
        "Have a second person review and release it first.",
    ),
    problem(
        "held",
        "A hold stands between a result and its release, so that nothing was released.",
        "The detail names each hold and what lifts it: a correction, another run, a later fact, or \
         where its kind allows it a reviewer's reasoned acceptance.",
    ),
    problem(
        "hold-not-acceptable",
        "A hold of this kind is not lifted by acceptance, or it is lifted already.",
        "Do what the hold's remedy says: it is lifted by that alone.",
    ),
    problem(
        "own-work",
        "You worked, entered or corrected a run that the result stands on: the second person must \
         be somebody else.",
        "Ask another reviewer to sign.",
    ),
    problem(
        "analyst-unknown",
        "The analyst of a run is not known, so nobody can say that the reviewer is somebody else.",
        "Correct the run: name the account of who worked. Then sign.",
    ),
    problem(
        "computation-due",
        "Something that the result depends on has changed, and it was not computed again yet.",
        "Wait a moment, look at the result again, then sign.",
    ),
    problem(
        "equipment-overdue",
        "A run is not begun on equipment that is past its calibration or check, or failed its \
         last one. A run that was read already is recorded all the same, and held.",
        "Have the equipment checked and record the check, or use another.",
    ),
    problem(
        "certificate-incomplete",
        "Something that a certificate must say is not recorded, so that none was issued.",
        "Complete the record that the detail names, then issue.",
    ),
    problem(
        "amendment-due",
        "A certificate that is in force states a result that says something else now.",
        "Amend that certificate, or withdraw it, before another is issued.",
    ),
    problem(
        "limit-state",
        "The limit's state does not allow this: only a proposed one is changed or adopted, and a \
         retired one decides nothing any more.",
        "Retire it and propose another, or look at its newest version.",
    ),
    problem(
        "later-step-misfits",
        "A later step of the preparation would no longer fit what it was made from.",
        "Correct the later step first.",
    ),
    problem(
        "sampling-has-samples",
        "Samples came from this sampling, so that it cannot move to another lot.",
        "Give those samples another sampling first.",
    ),
    problem(
        "key-withdrawn",
        "The key was withdrawn already.",
        "Look it up among the laboratory's keys.",
    ),
    problem(
        "only-signing-key",
        "No other key of the laboratory signs, so that this one cannot be withdrawn.",
        "Announce a new key, wait until it has a first entry, then withdraw this one.",
    ),
    problem(
        "key-still-needed",
        "Acts that the key signed have no entry in the log yet.",
        "Try again in a moment.",
    ),
    problem(
        "signer-name-retained",
        "A name stands beside a signature, and the time for which it has to be kept is not over.",
        "Leave the name out of the erasure, or ask again when the retention time is over.",
    ),
    problem(
        "account-active",
        "The account can still sign in, so that its login cannot be erased.",
        "Close the account first.",
    ),
    problem(
        "row-mended",
        "The refused row of the import was mended already.",
        "Correct the run that it tells, where that is wrong.",
    ),
    problem(
        "too-few-values",
        "The computation needs more values than there are; the detail says of what, and how many.",
        "Give more of them. No computation answers from fewer than it is defined for.",
    ),
    problem(
        "too-many-values",
        "There are more values than are computed with at once; the detail says how many may be.",
        "Send them in parts, or those that matter.",
    ),
    problem(
        "unequal-lengths",
        "Two lists that belong together, such as x and y, have different lengths.",
        "Give as many of the one as of the other, in the same order.",
    ),
    problem(
        "out-of-range",
        "A quantity lies outside what the computation is defined for, or outside the range that \
         the model named in the answer was made for.",
        "Look at the quantity that the refusal names, and at what it must be.",
    ),
    problem(
        "no-scatter",
        "All values are equal, and what is asked for compares something with their scatter.",
        "Check whether the values were rounded, or copied from one to the next.",
    ),
    problem(
        "no-finite-value",
        "The answer runs to infinity for these inputs: a division by nothing, a reading outside a \
         curve, a limit of detection above the range of the line.",
        "Look at the quantity that the refusal names. No number stands for it.",
    ),
    problem(
        "not-monotone",
        "The responses rise and fall where the curve can only do one of them.",
        "Check the points that the detail names; leave out what is known to be wrong.",
    ),
    problem(
        "does-not-settle",
        "The iteration came to no answer: the values do not fit what they are compared with.",
        "Look at the values together, in a plot, and at the curve or distribution asked for.",
    ),
    problem(
        "beyond-decimals",
        "A figure leaves the range that is kept exactly, about 28 digits.",
        "Give the values in another unit.",
    ),
];

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn no_kind_stands_twice_and_each_says_what_to_do() {
        let mut slugs: Vec<_> = PROBLEMS.iter().map(|problem| problem.slug).collect();
        slugs.sort_unstable();
        slugs.dedup();
        assert_eq!(slugs.len(), PROBLEMS.len());
        for problem in PROBLEMS {
            assert!(problem.meaning.ends_with('.'), "{}", problem.slug);
            assert!(problem.remedy.ends_with('.'), "{}", problem.slug);
        }
    }

    #[test]
    fn every_refusal_of_the_service_is_explained() {
        let mut files = vec![std::path::PathBuf::from(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/src"
        ))];
        while let Some(path) = files.pop() {
            if path.is_dir() {
                let below = std::fs::read_dir(&path).unwrap();
                files.extend(below.map(|entry| entry.unwrap().path()));
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            for after in text.split("refused(").skip(1) {
                let quoted = after.trim_start().strip_prefix('"');
                let Some((slug, _)) = quoted.and_then(|rest| rest.split_once('"')) else {
                    continue;
                };
                let word = slug.bytes().all(|b| b.is_ascii_lowercase() || b == b'-');
                assert!(
                    !word || PROBLEMS.iter().any(|problem| problem.slug == slug),
                    "{} refuses with \"{slug}\": explain it in api/src/problems/table.rs",
                    path.display()
                );
            }
        }
    }
}
