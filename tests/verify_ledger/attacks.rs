//! Attacks on an archive: each is found by both verifiers, with the entry or subject named.

use super::{
    archives::{Archive, folder, next_record_key, record_key, sample_act},
    second::second,
};
use api::verify_ledger::VerifyLedger;
use domain::ledger::{
    SecretKey,
    note::{KeyUse, VerifierKey},
};
use serde_json::{Value, json};

/// An attack: its name, what it does, the exit status, and what each verifier must name.
struct Attack {
    name: &'static str,
    archive: Archive,
    exit: i64,
    named: &'static [&'static str],
    /// A checkpoint that somebody kept.
    kept: Option<String>,
    trusted: bool,
}

fn attack(
    name: &'static str,
    exit: i64,
    named: &'static [&'static str],
    change: impl FnOnce(&mut Archive),
) -> Attack {
    let mut archive = Archive::golden();
    change(&mut archive);
    Attack {
        name,
        archive,
        exit,
        named,
        kept: None,
        trusted: true,
    }
}

fn replace(text: &mut String, from: &str, to: &str) {
    assert!(text.contains(from), "{from} is not in {text}");
    *text = text.replacen(from, to, 1);
}

/// Changes one character of base64url.
fn flip(text: &mut String, place: usize) {
    let other = match text.as_bytes()[place] {
        b'A' => "B",
        _ => "A",
    };
    text.replace_range(place..=place, other);
}

/// Whoever writes to the database, without any key.
#[expect(clippy::too_many_lines, reason = "one table of attacks")]
fn without_keys() -> Vec<Attack> {
    vec![
        attack("nothing", 0, &[], |_| {}),
        attack("a byte of a record", 1, &["entry 3"], |archive| {
            replace(&mut archive.records[6].record, "312.000000", "313.000000");
        }),
        attack(
            "a byte of a record that has later versions",
            1,
            &["entry 3", "019ca869-5004"],
            |a| {
                replace(
                    &mut a.records[5].record,
                    r#""value":"52""#,
                    r#""value":"25""#,
                );
            },
        ),
        attack(
            "a record not canonical",
            1,
            &["entry 2, record 0"],
            |archive| {
                replace(&mut archive.records[4].record, ":", ": ");
            },
        ),
        attack(
            "a record that names another act",
            1,
            &["entry 2, record 0"],
            |archive| {
                replace(&mut archive.records[4].record, "5bb8-7440", "5bb8-7441");
            },
        ),
        attack("a byte of an act's payload", 1, &["entry 4"], |archive| {
            let place = archive.entries[4].0.find('.').unwrap() + 80;
            flip(&mut archive.entries[4].0, place);
        }),
        attack("a byte of an act's signature", 1, &["entry 5"], |archive| {
            let place = archive.entries[5].0.len() - 30;
            flip(&mut archive.entries[5].0, place);
        }),
        attack(
            "a byte of a checkpoint's size",
            1,
            &["checkpoints/5"],
            |archive| {
                let note = &mut archive.checkpoints[1].1;
                replace(note, "\n5\n", "\n4\n");
            },
        ),
        attack(
            "a byte of a checkpoint's root",
            1,
            &["checkpoints/6"],
            |archive| {
                let note = &mut archive.checkpoints[2].1;
                replace(note, "hHpcAzme", "hHpcAzmf");
            },
        ),
        attack("the newest record taken out", 1, &["entry 7"], |archive| {
            archive.records.pop();
        }),
        attack("a middle record taken out", 1, &["entry 3"], |archive| {
            archive.records.remove(6);
        }),
        attack(
            "the newest entry taken out",
            1,
            &["checkpoints/8"],
            |archive| {
                archive.take_out(7);
            },
        ),
        attack(
            "a middle entry taken out",
            1,
            &["checkpoints/5", "019ca869-5005"],
            |archive| {
                archive.take_out(4);
            },
        ),
        attack(
            "a middle entry taken out, its number left",
            1,
            &["entry 3 is missing"],
            |archive| {
                archive.entries.remove(3);
            },
        ),
        attack("two entries swapped", 1, &["checkpoints/5"], |archive| {
            archive.entries.swap(1, 2);
            archive.number();
        }),
        attack("two records swapped", 1, &["entry 3"], |archive| {
            archive.records.swap(5, 6);
            (archive.records[5].position, archive.records[6].position) = (0, 1);
        }),
        attack(
            "an entry put in twice",
            1,
            &["entry 8, act 019ca869-6f40"],
            |archive| {
                let again = archive.entries[7].0.clone();
                archive.entries.push((again, 8));
            },
        ),
        attack(
            "a disclosure changed",
            1,
            &["line 2 of disclosures.jsonl"],
            |archive| {
                replace(&mut archive.disclosures[1], "WyJC", "WyJD");
            },
        ),
        attack("a disclosure erased", 0, &[], |archive| {
            archive.disclosures.remove(0);
        }),
        attack("records of no entry", 1, &["019ca869-ffff"], |archive| {
            let mut stray = archive.records[4].clone();
            stray.act = "019ca869-ffff-7440-8d28-d704af2ddd48".parse().unwrap();
            archive.records.push(stray);
        }),
    ]
}

/// Whoever holds a record key, or both, or swaps the trust file.
#[expect(clippy::too_many_lines, reason = "one table of attacks")]
fn with_keys() -> Vec<Attack> {
    let (new, old) = (
        "019ca869-7001-7440-8d28-d704af2ddd48",
        "019ca869-5003-7d46-b59c-6cf85cca57e4",
    );
    let act = move |archive: &Archive, key| {
        let id = "019ca869-7000-7440-8d28-d704af2ddd48".parse().unwrap();
        sample_act(archive.laboratory, id, new.parse().unwrap(), "S-0009", &key)
    };
    let replaced = move |archive: &mut Archive| {
        let id = archive.act(2);
        let subject = old.parse().unwrap();
        let (entry, line) = sample_act(archive.laboratory, id, subject, "S-0008", &record_key());
        archive.entries[2].0 = entry;
        archive.records[4] = line;
    };
    let inserted = move |archive: &mut Archive, place: usize, key| {
        let (entry, line) = act(archive, key);
        archive.entries.insert(place, (entry, 0));
        let before = archive.entries[..place].len();
        let next = archive
            .entries
            .get(before + 1)
            .map(|_| archive.act(before + 1));
        let at = archive
            .records
            .iter()
            .position(|line| Some(line.act) == next);
        archive
            .records
            .insert(at.unwrap_or(archive.records.len()), line);
        archive.number();
    };
    let mut forked = attack(
        "a fork, met by a checkpoint that was kept",
        1,
        &["kept.txt"],
        |a| {
            replaced(a);
            a.fork();
        },
    );
    forked.kept = Some(Archive::golden().checkpoints[2].1.clone());
    let mut kept = attack("nothing, and a checkpoint that was kept", 0, &[], |_| {});
    kept.kept = Some(Archive::golden().checkpoints[2].1.clone());
    let mut truncated = attack(
        "an older state, met by a later checkpoint",
        1,
        &["kept.txt"],
        |a| {
            a.take_out(7);
            a.take_out(6);
            a.checkpoints.pop();
        },
    );
    truncated.kept = Some(Archive::golden().checkpoints[3].1.clone());
    let unseen = attack(
        "witnesses asked for, none there",
        1,
        &["entries from 0 on"],
        |a| {
            let key = VerifierKey::new(
                "witness.example/w1",
                KeyUse::Cosignature,
                SecretKey::from_seed(&[9; 32]).public().clone(),
            );
            let key = key.unwrap();
            let policy = format!("witness w1 {key}\\nquorum w1\\n");
            replace(
                &mut a.trust,
                "\"size\":8",
                &format!("\"size\":8,\"witnesses\":\"{policy}\""),
            );
        },
    );
    let mut untrusted = attack("no trust file given", 3, &[], |_| {});
    untrusted.trusted = false;
    vec![
        attack(
            "an act replaced by another, rightly signed",
            1,
            &["checkpoints/5"],
            replaced,
        ),
        attack(
            "an act put in, rightly signed",
            1,
            &["checkpoints/5"],
            move |archive| {
                inserted(archive, 3, record_key());
            },
        ),
        attack(
            "an act put behind, rightly signed",
            1,
            &["entries from 8 on"],
            move |archive| {
                inserted(archive, 8, next_record_key());
            },
        ),
        attack(
            "an act by a key withdrawn before",
            1,
            &["entry 8"],
            move |archive| {
                inserted(archive, 8, record_key());
                archive.seal(9);
            },
        ),
        attack("an act put behind and sealed", 0, &[], move |archive| {
            inserted(archive, 8, next_record_key());
            archive.seal(9);
        }),
        attack(
            "a key that the trust file has from another entry",
            1,
            &["good from"],
            |archive| {
                replace(&mut archive.trust, r#""from_entry":7"#, r#""from_entry":6"#);
            },
        ),
        forked,
        kept,
        truncated,
        unseen,
        untrusted,
    ]
}

#[test]
fn each_attack_is_found_by_both_verifiers_and_named() {
    let folder = folder("attacks");
    let mut attacks = without_keys();
    attacks.extend(with_keys());
    let (mut asked, mut wrong) = (Vec::new(), Vec::new());
    for (number, attack) in attacks.iter().enumerate() {
        let path = attack.archive.write(&folder, &format!("{number}.zip"));
        let trust = folder.join(format!("{number}.json"));
        std::fs::write(&trust, &attack.archive.trust).unwrap();
        let mut checkpoints = Vec::new();
        if let Some(note) = &attack.kept {
            let kept = folder.join(format!("{number}-kept.txt"));
            std::fs::write(&kept, note).unwrap();
            checkpoints.push(kept.to_str().unwrap().to_owned());
        }
        let mut case = json!({"archive": path, "checkpoints": checkpoints});
        if attack.trusted {
            case["trust"] = json!(attack.archive.trust);
        }
        asked.push(case);
        let report = VerifyLedger {
            archive: path,
            checkpoints,
            trust: attack.trusted.then(|| trust.to_str().unwrap().to_owned()),
            json: false,
            recomputes: false,
        }
        .run();
        let exit = i64::from(report.status().exit());
        judge(attack, "the first", exit, &report.to_string(), &mut wrong);
    }
    for (attack, said) in attacks.iter().zip(second(&asked).unwrap_or_default()) {
        judge(attack, "the second", said.exit, &said.text, &mut wrong);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

fn judge(attack: &Attack, who: &str, exit: i64, said: &str, wrong: &mut Vec<String>) {
    let unnamed: Vec<&&str> = attack
        .named
        .iter()
        .filter(|word| !said.contains(**word))
        .collect();
    if exit != attack.exit || !unnamed.is_empty() {
        wrong.push(format!(
            "{}, {who}: {exit}, not {}; unnamed {unnamed:?}\n{said}",
            attack.name, attack.exit
        ));
    }
}

#[test]
fn the_program_says_what_the_check_says() {
    let folder = folder("program");
    let path = Archive::golden().write(&folder, "golden.zip");
    let trust = folder.join("trust.json");
    std::fs::write(&trust, &Archive::golden().trust).unwrap();
    let run = |arguments: &[&str]| {
        let done = std::process::Command::new(env!("CARGO_BIN_EXE_assize"))
            .arg("verify-ledger")
            .args(arguments)
            .env_clear()
            .output()
            .unwrap();
        (
            done.status.code().unwrap(),
            String::from_utf8(done.stdout).unwrap(),
        )
    };
    let trust = trust.to_str().unwrap();
    let (exit, said) = run(&[&path, "--trust", trust, "--without-recomputation", "--json"]);
    let report: Value = serde_json::from_str(&said).unwrap();
    assert_eq!((exit, &report["exit"]), (0, &json!(0)), "{said}");
    assert_eq!(report["lines"].as_array().unwrap().len(), 11);
    // What the golden records hold illustrates: no results could be computed from it.
    let (exit, said) = run(&[&path, "--trust", trust]);
    assert_eq!(exit, 1, "{said}");
    assert!(
        said.contains("9. FAILED: entry 3, subject 019ca869-5005"),
        "{said}"
    );
    assert_eq!(run(&[]).0, 64);
    assert_eq!(run(&[&path, "--checkpoint"]).0, 64);
    let (exit, said) = run(&[trust]);
    assert_eq!(exit, 2, "{said}");
}
