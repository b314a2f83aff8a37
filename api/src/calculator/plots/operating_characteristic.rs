//! The probability of acceptance over the concentration of a lot.

use crate::plots::{
    Plot,
    axis::Axis,
    field::Field,
    picture::{ACCENT, Anchor, LIMIT, Picture, at, beside},
};
use domain::{
    quantity::Number,
    sampling_variance::{CharacteristicInputs, OperatingCharacteristic, characteristic},
    statistics::StatisticsError,
};
use rust_decimal::Decimal;

const LEFT: i64 = 60;
const RIGHT: i64 = 680;
const TOP: i64 = 30;
const BOTTOM: i64 = 300;

/// Draws the operating characteristic of a plan.
pub(super) fn draw(inputs: &CharacteristicInputs) -> Result<Plot, StatisticsError> {
    let curve = characteristic(inputs)?;
    let legal = curve.legal_limit_ug_per_kg;
    let places = curve
        .points
        .iter()
        .map(|point| point.concentration_ug_per_kg.0);
    let x = Axis::over(places.chain([Decimal::ZERO, legal.0]), (LEFT, RIGHT));
    let y = Axis::over([Decimal::ZERO, Decimal::ONE], (BOTTOM, TOP));
    let mut picture = Picture::default();
    let field = Field {
        left: LEFT,
        right: RIGHT,
        bottom: BOTTOM,
    };
    field.draw(&mut picture, &x, &y, "concentration of the lot, µg/kg");
    let above = (at(LEFT.saturating_sub(44)), at(TOP.saturating_sub(14)));
    let italic = "font-style=\"italic\"";
    picture.text(above, Anchor::Start, italic, "probability of acceptance");
    let place = x.place(legal.0);
    let style = format!("stroke=\"{LIMIT}\" stroke-width=\"1.6\"");
    picture.line(
        (place, at(TOP.saturating_sub(8))),
        (place, at(BOTTOM)),
        &style,
    );
    let label = format!("legal limit {} µg/kg", legal.0.normalize());
    let beside_it = (beside(place, 6), at(TOP.saturating_sub(8)));
    picture.text(beside_it, Anchor::Start, "", &label);
    let mut points: Vec<(Decimal, Decimal)> = curve
        .points
        .iter()
        .map(|point| {
            (
                point.concentration_ug_per_kg.0,
                point.probability_accepted.0,
            )
        })
        .collect();
    points.sort_unstable();
    let points: Vec<_> = points
        .iter()
        .map(|(c, p)| (x.place(*c), y.place(*p)))
        .collect();
    picture.through(&points, &format!("stroke=\"{ACCENT}\" stroke-width=\"2\""));
    if points.len() <= 60 {
        for point in &points {
            picture.dot(*point, 3, &format!("fill=\"{ACCENT}\""));
        }
    }
    let description = describe(&curve);
    Ok(Plot {
        svg: picture.finish(
            "operating-characteristic",
            "Operating characteristic",
            &description,
            BOTTOM + 44,
        ),
        caption: description,
        heads: vec![
            "Concentration, µg/kg",
            "Probability of acceptance",
            "Seller's risk",
            "Buyer's risk",
            "Coefficient of variation, %",
        ],
        rows: rows(&curve),
    })
}

fn describe(curve: &OperatingCharacteristic) -> String {
    format!(
        "The model \"{}\": accepted when the result is not above {} µg/kg; legal limit {} µg/kg.",
        curve.model.name,
        curve.accept_limit_ug_per_kg.0.normalize(),
        curve.legal_limit_ug_per_kg.0.normalize()
    )
}

fn rows(curve: &OperatingCharacteristic) -> Vec<Vec<String>> {
    let some = |risk: Option<Number>| risk.map_or_else(String::new, |risk| risk.to_string());
    let points = curve.points.iter();
    points
        .map(|point| {
            vec![
                point.concentration_ug_per_kg.to_string(),
                point.probability_accepted.to_string(),
                some(point.seller_risk),
                some(point.buyer_risk),
                point.cv_percent.to_string(),
            ]
        })
        .collect()
}
