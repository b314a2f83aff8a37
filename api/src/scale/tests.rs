//! Pictures of invented results, as snapshots, and the rules of axis and labels.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

use super::*;

fn number(text: &str) -> Decimal {
    text.parse().unwrap()
}

fn range(dilution: &str, lod: &str, loq: &str, upper: &str) -> Range {
    Range {
        dilution: dilution.to_owned(),
        lod: number(lod),
        loq: number(loq),
        upper: number(upper),
    }
}

fn limit(name: &str, value: &str, guard: Option<(&str, &str)>) -> LimitMark {
    LimitMark {
        name: name.to_owned(),
        value: number(value),
        guard: guard.map(|(from, to)| (number(from), number(to))),
    }
}

fn run(dilution: &str, position: Position) -> RunMark {
    RunMark {
        dilution: dilution.to_owned(),
        position,
    }
}

/// A run over range, its diluted second run, and three limits.
fn diluted() -> Scale {
    Scale {
        key: "diluted".to_owned(),
        analyte: "Total aflatoxins".to_owned(),
        unit: "µg/kg".to_owned(),
        ranges: vec![
            range("undiluted", "2", "3", "50"),
            range("× 6", "12", "18", "300"),
        ],
        runs: vec![
            run("undiluted", Position::Above(number("50"))),
            run("× 6", Position::At(number("276.000000"))),
        ],
        result: Some(ResultMark {
            reported: "276".to_owned(),
            uncertainty: Some(("47".to_owned(), number("47"), number("2"))),
            position: Position::At(number("276.000000")),
        }),
        limits: vec![
            limit("Finishing beef cattle", "300", Some(("253", "347"))),
            limit("Human food", "20", None),
            limit("Contract", "100", None),
        ],
        surface: Surface::Screen,
    }
}

/// One run in range, a limit well away: a linear axis.
fn plain() -> Scale {
    Scale {
        key: "plain".to_owned(),
        ranges: vec![range("undiluted", "2", "3", "50")],
        runs: vec![
            run("undiluted", Position::At(number("4.1"))),
            run("undiluted", Position::At(number("4.6"))),
        ],
        result: Some(ResultMark {
            reported: "4.4".to_owned(),
            uncertainty: None,
            position: Position::At(number("4.350000")),
        }),
        limits: vec![
            limit("Human food", "20", None),
            limit("Intake's own", "18", Some(("15", "18"))),
        ],
        ..diluted()
    }
}

#[test]
fn the_picture_of_a_diluted_result() {
    insta::assert_snapshot!(svg(&diluted()));
}

#[test]
fn the_picture_of_a_plain_result() {
    insta::assert_snapshot!(svg(&plain()));
}

#[test]
fn the_picture_of_bounds_and_nothing_found() {
    let bounds = Scale {
        key: "bounds".to_owned(),
        runs: vec![
            run("undiluted", Position::Below(number("2"))),
            run("undiluted", Position::NotDetected),
        ],
        result: Some(ResultMark {
            reported: "< 2".to_owned(),
            uncertainty: None,
            position: Position::Below(number("2")),
        }),
        ..plain()
    };
    insta::assert_snapshot!(svg(&bounds));
}

#[test]
fn the_numbers_as_a_table_and_in_words() {
    insta::assert_snapshot!(format!("{}\n{}", summary(&diluted()), table(&diluted())));
}

#[test]
fn an_axis_is_linear_up_to_a_span_of_20_and_logarithmic_beyond() {
    let mut scale = plain();
    scale.ranges.clear();
    scale.result = None;
    scale.runs = vec![run("undiluted", Position::At(number("1")))];
    scale.limits = vec![limit("at 20", "20", None)];
    assert_eq!(Axis::of(&scale).kind(), "linear");
    scale.limits = vec![limit("beyond", "20.1", None)];
    assert_eq!(Axis::of(&scale).kind(), "logarithmic");
}

#[test]
fn a_logarithmic_axis_agrees_with_the_logarithm() {
    let axis = Axis {
        floor: Some(number("1")),
        top: number("1000"),
        ticks: Vec::new(),
    };
    let places: Vec<String> = ["0", "1", "10", "100", "1000", "2", "31.622776"]
        .map(|value| axis.place(number(value)).to_string())
        .to_vec();
    // Zero at 24, the logarithmic part from 68 to 640, a third of it a decade; log10(2) = 0.30103.
    assert_eq!(
        places,
        ["24", "68", "258.7", "449.3", "640", "125.4", "354"]
    );
}

#[test]
fn values_keep_their_order_on_the_axis() {
    for scale in [diluted(), plain()] {
        let axis = Axis::of(&scale);
        let places: Vec<Decimal> = (0..=500)
            .map(|value| axis.place(Decimal::from(value)))
            .collect();
        assert!(places.is_sorted());
    }
}

#[test]
fn labels_never_lie_on_each_other() {
    let mut scale = plain();
    scale.limits = (0..12)
        .map(|step| {
            limit(
                "a limit with a long name",
                &format!("{}", 40 + step / 2),
                None,
            )
        })
        .collect();
    let picture = svg(&scale);
    let mut baselines: Vec<&str> = picture
        .lines()
        .filter(|line| line.contains("a limit with a long name"))
        .filter_map(|line| line.split("y=\"").nth(1)?.split('"').next())
        .collect();
    baselines.sort_unstable();
    baselines.dedup();
    assert_eq!(
        baselines.len(),
        12,
        "labels at almost one place need a row each"
    );
}

#[test]
fn markup_in_a_name_stays_text() {
    let mut scale = plain();
    scale.limits = vec![limit("<script>alert('x')</script> & \"so on\"", "20", None)];
    for text in [svg(&scale), table(&scale)] {
        assert!(!text.contains("<script>"));
        assert!(text.contains("&lt;script&gt;"));
    }
}

#[test]
fn extreme_figures_are_drawn_without_a_fault() {
    let mut scale = diluted();
    scale.limits = vec![
        limit("least", "0.0000000000000000000000000001", None),
        limit("greatest", "79228162514264337593543950335", None),
    ];
    assert!(svg(&scale).ends_with("</svg>\n"));
    scale.ranges.clear();
    scale.runs.clear();
    scale.limits.clear();
    scale.result = None;
    assert!(svg(&scale).ends_with("</svg>\n"));
}
