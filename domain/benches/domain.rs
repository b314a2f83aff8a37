//! What the domain costs, operation by operation: sealing a record, signing an act, canonical
//! bytes, computing a result, fits of the statistics, reading an export of 100,000 rows.
//!
//! The inputs are the examples of the documentation, and the random cases of `tests/compared`, at
//! which the bench `numbers` times NumPy and SciPy too; the export is made here and invented.

use criterion::{Criterion, Throughput};
use domain::{
    column_maps::{CheckedColumnMap, ColumnMap},
    id::{ActId, LaboratoryId},
    imports::{group, parse},
    ledger::{Act, Actor, Hash, RecordDraft, SecretKey, act, canonical},
    procedures::ProcedureEntry,
    results::{BudgetEvidence, Facts, OrderFacts, ResultInputs, RunFacts, compute, compute_by},
    runs::{Origin, Run, RunContext, RunEntry},
    statistics::{
        comparison::{PassingBablokInput, passing_bablok},
        logistic::{LogisticFitInput, fit_logistic},
    },
    versions::SubjectVersion,
};
use serde_json::json;
use std::{error::Error, fmt::Write as _, hint::black_box, time::Duration};
use uuid::Uuid;

type Failure = Box<dyn Error>;

const ROWS: u32 = 100_000;

fn main() -> Result<(), Failure> {
    let mut criterion = Criterion::default().configure_from_args();
    let run = example_run()?;
    seal(&mut criterion, &run)?;
    sign(&mut criterion)?;
    canonical_bytes(&mut criterion, &run)?;
    result(&mut criterion, &run)?;
    statistics(&mut criterion)?;
    export(&mut criterion)?;
    criterion.final_summary();
    Ok(())
}

fn example_run() -> Result<Run, Failure> {
    let entry: RunEntry = serde_json::from_str(include_str!("../src/runs/example.json"))?;
    let context = RunContext { ports: Some(3) };
    Ok(Run::record(entry, &context, vec![Origin::bench()])?)
}

fn laboratory() -> Result<LaboratoryId, Failure> {
    Ok("019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?)
}

fn act_id() -> Result<ActId, Failure> {
    Ok("019ca869-5001-7d46-b59c-6cf85cca57e4".parse()?)
}

/// One record: canonical bytes, written and hashed.
fn seal(criterion: &mut Criterion, run: &Run) -> Result<(), Failure> {
    let content = serde_json::to_value(run)?;
    let draft = RecordDraft {
        act: act_id()?,
        laboratory: laboratory()?,
        kind: "run",
        schema: 1,
        subject: Uuid::from_u128(7),
        version: 1,
        previous: None,
        content: &content,
    };
    draft.seal()?;
    criterion.bench_function("record seal", |bench| {
        bench.iter(|| black_box(&draft).seal())
    });
    Ok(())
}

/// One act of three records: a run, its result and a hold.
fn sign(criterion: &mut Criterion) -> Result<(), Failure> {
    let key = SecretKey::from_seed(&[7; 32]);
    let hashes = [Hash::of(b"run"), Hash::of(b"result"), Hash::of(b"hold")];
    let made = Act {
        id: act_id()?,
        action: "record-run".into(),
        actor: Actor::Process {
            process: "bench".into(),
        },
        laboratory: laboratory()?,
        reason: None,
        records: 3,
        root: act::root(&hashes)?,
        time: "2026-03-01T08:10:00.250000Z".parse()?,
    };
    made.sign(&key)?;
    criterion.bench_function("act sign", |bench| {
        bench.iter(|| black_box(&made).sign(&key))
    });
    Ok(())
}

fn canonical_bytes(criterion: &mut Criterion, run: &Run) -> Result<(), Failure> {
    let content = serde_json::to_value(run)?;
    canonical::to_bytes(&content)?;
    criterion.bench_function("canonical bytes", |bench| {
        bench.iter(|| canonical::to_bytes(black_box(&content)));
    });
    Ok(())
}

/// A dilution, a mass, a volume and control material with their doubts.
fn evidence() -> Result<BudgetEvidence, Failure> {
    let doubt = |half_width: &str| {
        json!({"source": "PI-1", "basis": "a standard's limit",
            "doubt": {"kind": "half-width", "half_width": half_width}})
    };
    let volume = |volume: &str, half_width: &str| {
        let scatter = json!({"source": "PI-1, each delivery",
            "doubt": {"kind": "deviation", "standard_deviation": "0.6"}});
        json!({"volume": volume, "doubts": [doubt(half_width), scatter]})
    };
    let mut diluent = volume("500", "8");
    if let Some(members) = diluent.as_object_mut() {
        members.insert("kind".into(), json!("diluent"));
    }
    Ok(BudgetEvidence {
        bias: serde_json::from_value(json!({"mean_found": "19.8", "standard_deviation": "1.2",
            "determinations": 12, "assigned_value": "20",
            "assigned_standard_uncertainty": "0.6"}))?,
        dilution: vec![serde_json::from_value(
            json!({"sample": volume("100", "1.6"), "with": diluent}),
        )?],
        test_portion: serde_json::from_value(json!({"mass_g": "10.0", "doubts": [doubt("0.1")]}))?,
        liquid: serde_json::from_value(json!({"volume": "50", "doubts": [doubt("1")]}))?,
        ..BudgetEvidence::default()
    })
}

/// One result of one diluted run, without limits.
fn result(criterion: &mut Criterion, run: &Run) -> Result<(), Failure> {
    let text = include_str!("../src/procedures/example.json");
    let procedure: ProcedureEntry = serde_json::from_str(text)?;
    let (Some(sample), Some(worked_by), Some(assigned)) = (
        run.entry.sample,
        run.entry.procedure,
        procedure.analytes.first(),
    ) else {
        return Err("the examples name a sample, a procedure and an analyte".into());
    };
    let facts = [RunFacts {
        id: "019ca869-5020-7d46-b59c-6cf85cca57e4".parse()?,
        version: 1,
        run,
        expanded_uncertainty: None,
    }];
    let source = SubjectVersion {
        subject: worked_by.0,
        version: 3,
    };
    let conditions = Default::default();
    let nothing = BudgetEvidence::default();
    let inputs = ResultInputs {
        sample,
        analyte: assigned.analyte,
        purpose: Default::default(),
        order: OrderFacts {
            number_wanted: false,
            rule: domain::decisions::DecisionRule::Simple,
        },
        procedure: Some(Facts {
            source,
            content: &procedure,
        }),
        kit_lots: &[],
        runs: &facts,
        limits: &[],
        conditions: &conditions,
        moisture_percent: None,
        recorded_bases: &[],
        uncertainty: None,
        pipettes: &[],
        evidence: &nothing,
        other_sources: &[],
    };
    criterion.bench_function("result compute by rules 1", |bench| {
        bench.iter(|| compute_by(1, black_box(&inputs)));
    });
    criterion.bench_function("result compute", |bench| {
        bench.iter(|| compute(black_box(&inputs)));
    });
    let evidence = evidence()?;
    let budgeted = ResultInputs {
        evidence: &evidence,
        ..inputs
    };
    if compute(&budgeted)
        .uncertainty
        .map_or(0, |kept| kept.lines.len())
        != 8
    {
        return Err("the budget of the bench has eight lines".into());
    }
    criterion.bench_function("result compute with a budget of eight lines", |bench| {
        bench.iter(|| compute(black_box(&budgeted)));
    });
    Ok(())
}

/// A thousand logistic curves, and the slopes between 2,000 pairs.
fn statistics(criterion: &mut Criterion) -> Result<(), Failure> {
    let mut curves: Vec<LogisticFitInput> = Vec::new();
    for line in include_str!("../../tests/compared/logistic.jsonl").lines() {
        let case: serde_json::Value = serde_json::from_str(line)?;
        let input = case.get("input").ok_or("a case without input")?;
        curves.push(serde_json::from_value(input.clone())?);
    }
    let thousand: Vec<&LogisticFitInput> = curves.iter().cycle().take(1_000).collect();
    let mut slow = criterion.benchmark_group("statistics");
    slow.sample_size(10);
    slow.bench_function("a thousand logistic fits", |bench| {
        bench.iter(|| {
            thousand
                .iter()
                .filter(|input| fit_logistic(black_box(input)).is_ok())
                .count()
        });
    });
    let pairs: PassingBablokInput =
        serde_json::from_str(include_str!("../../tests/compared/pairs.json"))?;
    slow.bench_function("Passing-Bablok of 2,000 pairs", |bench| {
        bench.iter(|| passing_bablok(black_box(&pairs)));
    });
    slow.finish();
    Ok(())
}

fn map() -> Result<CheckedColumnMap, Failure> {
    let map: ColumnMap = serde_json::from_str(
        r#"{"name": "Bench", "mode": "row_by_row",
            "time_zone": "Europe/Vienna", "time_formats": ["%d.%m.%Y %H:%M:%S"],
            "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
                        "read_at": {"column": "Time"}, "sample_code": "Sample",
                        "kit_lot_code": {"column": "Kit lot"}},
            "readings": {"by_row": {"analyte": {"fixed": "deoxynivalenol"}, "value": "Result",
                                    "unit": {"fixed": "ug/kg"}}}}"#,
    )?;
    map.check()
        .map_err(|faults| format!("the map of the bench: {faults:?}").into())
}

fn rows() -> Result<String, Failure> {
    let mut text = String::from("Reader;Port;Time;Sample;Kit lot;Result\r\n");
    for row in 0..ROWS {
        let (port, second) = (row % 3 + 1, row / 3);
        let (hour, minute) = (second / 3600 + 6, second / 60 % 60);
        writeln!(
            text,
            "R-1;{port};02.03.2026 {hour:02}:{minute:02}:{:02};S-{};K-1;{}.{}\r",
            second % 60,
            row / 5,
            row % 400 + 20,
            row % 10
        )?;
    }
    Ok(text)
}

fn export(criterion: &mut Criterion) -> Result<(), Failure> {
    let (map, text) = (map()?, rows()?);
    let runs = group(parse(text.as_bytes(), &map)?).runs.len();
    if u32::try_from(runs)? != ROWS {
        return Err(format!("{runs} runs were read from {ROWS} rows").into());
    }
    let mut slow = criterion.benchmark_group("export of 100,000 rows");
    slow.sample_size(10)
        .measurement_time(Duration::from_secs(10))
        .throughput(Throughput::Elements(u64::from(ROWS)));
    slow.bench_function("parse and group", |bench| {
        bench.iter_with_large_drop(|| parse(black_box(text.as_bytes()), &map).map(group));
    });
    slow.finish();
    Ok(())
}
