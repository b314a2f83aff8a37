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
        "Ten sign-ins in a row were refused, so that none is taken for fifteen minutes.",
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
        "The correction changes a member that never changes once it is recorded: where a run came \
         from, a custody event, what a check was made on.",
        "Leave the member as it is. Where it was recorded wrongly, withdraw the thing and record it \
         anew.",
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
        "series-state",
        "The series is closed already, or would close before it was opened.",
        "Look at the series. A closed one stays so: open another.",
    ),
];

#[cfg(test)]
mod tests {
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
}
