//! Dilution factors and result budgets against draws: the Monte Carlo method of JCGM 101:2008.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_types,
    reason = "a test may unwrap, and draws are floats"
)]

use domain::uncertainty::dilution::{DilutionInputs, dilution};
use domain::uncertainty::product::{ProductInputs, product};
use serde_json::json;

const DRAWS: u32 = 1_000_000;

/// A generator of Steele, Lea and Flood (SplitMix64), seeded: every run draws the same.
struct Draws(u64);

impl Draws {
    /// Uniform from 0 to below 1.
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let high = u32::try_from((mixed ^ (mixed >> 31)) >> 32).unwrap();
        (f64::from(high) + 0.5) / 4_294_967_296.0
    }

    fn rectangular(&mut self, half_width: f64) -> f64 {
        half_width * (2.0 * self.uniform() - 1.0)
    }

    fn triangular(&mut self, half_width: f64) -> f64 {
        half_width * (self.uniform() + self.uniform() - 1.0)
    }

    /// Box and Muller.
    fn normal(&mut self, deviation: f64) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        deviation * radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }
}

/// Mean and standard deviation of draws.
fn drawn(mut draw: impl FnMut(&mut Draws) -> f64) -> (f64, f64) {
    let mut draws = Draws(20_261_125);
    let (mut mean, mut squares) = (0.0, 0.0);
    for count in 1..=DRAWS {
        let value = draw(&mut draws);
        let away = value - mean;
        mean += away / f64::from(count);
        squares += away * (value - mean);
    }
    (mean, (squares / f64::from(DRAWS - 1)).sqrt())
}

fn float(number: domain::quantity::Number) -> f64 {
    number.to_string().parse().unwrap()
}

fn agrees(value: f64, standard: f64, (mean, deviation): (f64, f64)) {
    assert!(
        (mean / value - 1.0).abs() < 1e-3,
        "{mean} drawn, {value} computed"
    );
    // The scatter of a standard deviation of a million draws is 0.07 %.
    assert!(
        (deviation / standard - 1.0).abs() < 5e-3,
        "{deviation} drawn, {standard} computed"
    );
}

#[test]
fn one_step_by_two_pipettes_agrees_with_a_million_draws() {
    // Limits of ISO 8655-2:2002 for a 100 µL and a 1000 µL pipette (from memory).
    let inputs: DilutionInputs = serde_json::from_value(json!({"steps": [{
        "sample": {"volume": "100", "doubts": [
            {"source": "systematic", "doubt": {"kind": "half-width", "half_width": "0.8"}},
            {"source": "random", "doubt": {"kind": "deviation", "standard_deviation": "0.3"}}]},
        "with": {"kind": "diluent", "volume": "500", "doubts": [
            {"source": "systematic", "doubt": {"kind": "half-width", "half_width": "8"}},
            {"source": "random", "doubt": {"kind": "deviation", "standard_deviation": "3"}}]}}]}))
    .unwrap();
    let found = dilution(&inputs).unwrap();
    agrees(
        float(found.factor),
        float(found.standard_uncertainty),
        drawn(|draws| {
            let sample = 100.0 + draws.rectangular(0.8) + draws.normal(0.3);
            let diluent = 500.0 + draws.rectangular(8.0) + draws.normal(3.0);
            (sample + diluent) / sample
        }),
    );
}

#[test]
fn two_steps_with_a_flask_and_temperature_agree_with_a_million_draws() {
    let temperature = json!({"source": "temperature", "doubt": {"kind": "temperature",
        "half_width_degc": "4"}});
    let inputs: DilutionInputs = serde_json::from_value(json!({"steps": [
        {"sample": {"volume": "1", "doubts": [
            {"source": "pipette", "doubt": {"kind": "half-width", "half_width": "0.008"}}]},
         "with": {"kind": "made-up-to", "volume": "10", "doubts": [
            {"source": "flask", "doubt": {"kind": "half-width", "half_width": "0.025",
                "shape": "triangular"}}, temperature]}},
        {"sample": {"volume": "0.15", "doubts": [
            {"source": "pipette", "doubt": {"kind": "half-width", "half_width": "0.0016"}}]},
         "with": {"kind": "diluent", "volume": "0.5", "doubts": [
            {"source": "pipette", "doubt": {"kind": "expanded", "expanded": "0.008",
                "coverage_factor": "2"}}]}}]}))
    .unwrap();
    let found = dilution(&inputs).unwrap();
    agrees(
        float(found.factor),
        float(found.standard_uncertainty),
        drawn(|draws| {
            let taken = 1.0 + draws.rectangular(0.008);
            let flask = 10.0 + draws.triangular(0.025) + draws.rectangular(10.0 * 4.0 * 0.00021);
            let sample = 0.15 + draws.rectangular(0.0016);
            let diluent = 0.5 + draws.normal(0.004);
            flask / taken * (sample + diluent) / sample
        }),
    );
}

#[test]
fn a_product_of_powers_agrees_with_a_million_draws() {
    let inputs: ProductInputs = serde_json::from_value(json!({"constant": "2", "factors": [
        {"name": "d", "value": "2.7", "power": 2, "doubts": [
            {"source": "d", "doubt": {"kind": "standard", "standard": "0.02"}}]},
        {"name": "R", "value": "0.84", "power": -1, "doubts": [
            {"source": "R", "doubt": {"kind": "half-width", "half_width": "0.02"}}]}]}))
    .unwrap();
    let found = product(&inputs).unwrap();
    agrees(
        float(found.value),
        float(found.budget.combined),
        drawn(|draws| {
            let d = 2.7 + draws.normal(0.02);
            2.0 * d * d / (0.84 + draws.rectangular(0.02))
        }),
    );
}
