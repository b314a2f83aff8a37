//! What holds of every result.

use proptest::prelude::*;

use super::Bench;
use crate::decisions::Finding;
use crate::results::Needs;

fn any_reading() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => (0_u32..7000).prop_map(|tenths| format!("{}.{}", tenths / 10, tenths % 10)),
        1 => Just(">50".to_owned()),
        1 => Just("<2".to_owned()),
        1 => Just("ND".to_owned()),
        1 => Just("!".to_owned()),
        1 => Just("999999999.999999999999999999".to_owned()),
    ]
}

fn any_bench() -> impl Strategy<Value = Bench> {
    let run = (
        prop_oneof![Just(0_u32), Just(500), Just(1900)],
        any_reading(),
    );
    (
        prop::collection::vec(run, 0..6),
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(runs, limited, number_wanted)| {
            let mut bench = runs
                .into_iter()
                .fold(Bench::new(), |bench, (diluent, text)| {
                    bench.run(diluent, &text)
                });
            if limited {
                bench = bench.limit_20();
            }
            bench.number_wanted = number_wanted;
            bench
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn the_order_that_runs_are_handed_in_does_not_matter(
        bench in any_bench(),
        order in Just((0_usize..6).collect::<Vec<_>>()).prop_shuffle(),
    ) {
        prop_assert_eq!(bench.result(), bench.result_in_order(&order));
    }

    #[test]
    fn a_run_handed_in_twice_counts_once(bench in any_bench()) {
        let twice: Vec<usize> = (0..6).chain(0..6).collect();
        prop_assert_eq!(bench.result(), bench.result_in_order(&twice));
    }

    #[test]
    fn a_result_is_whole_or_says_what_is_due(bench in any_bench()) {
        let result = bench.result();
        prop_assert_eq!(result.runs.len(), bench.runs.len());
        prop_assert_eq!(result.finding.is_none(), result.needs == Some(Needs::Run));
        prop_assert_eq!(result.next_dilution.is_some(), result.needs == Some(Needs::Dilution));
        prop_assert_eq!(result.finding.is_some(), result.runs.iter().any(|run| run.standing));
        prop_assert_eq!(
            result.concentration,
            result.finding.and_then(Finding::quantified)
        );
        prop_assert!(result.from.is_sorted());
    }

    #[test]
    fn a_single_number_in_range_is_the_reading_times_the_factor(
        tenths in 20_i64..=500, diluent in prop_oneof![Just(0_u32), Just(500), Just(1900)],
    ) {
        let text = format!("{}.{}", tenths / 10, tenths % 10);
        let result = Bench::new().run(diluent, &text).result();
        let factor = i64::from(1 + diluent / 100);
        let expected = rust_decimal::Decimal::new(tenths * factor, 1);
        prop_assert_eq!(result.concentration.unwrap().ug_per_kg(), expected);
    }
}
