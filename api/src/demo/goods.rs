//! The demo's customers, orders, lots, samples and what was prepared of them. All invented.

use super::{
    bench::{Bench, day},
    caller::{Caller, text},
    people::People,
};
use crate::error::Answer;
use domain::time::Moment;
use serde_json::{Value, json};

/// A lot's sample and what is to become of it.
pub(crate) struct Sampled {
    pub(crate) lot: String,
    pub(crate) sample: String,
    pub(crate) code: String,
    pub(crate) vomitoxin: bool,
    /// Which lot of the forty it is, from 0.
    pub(crate) number: u64,
}

const LOTS: u64 = 40;

/// Days since a lot arrived; the newest today.
pub(crate) fn days_ago(number: u64) -> u64 {
    LOTS.saturating_sub(1).saturating_sub(number) / 4
}

/// A time of the day on which a lot was worked on, in UTC.
pub(crate) fn at(now: Moment, number: u64, minutes: u64) -> String {
    // Yesterday at the latest: nothing of the demo may lie ahead of the clock.
    let date = day(now, days_ago(number).saturating_add(1));
    let minutes = minutes
        .saturating_add((number % 4) * 100)
        .saturating_add(7 * 60);
    format!("{date}T{:02}:{:02}:00Z", minutes / 60 % 24, minutes % 60)
}

/// Receives the goods that are missing.
pub(crate) async fn receive(people: &People, bench: &Bench, now: Moment) -> Answer<Vec<Sampled>> {
    let quality = &people.quality;
    let mut customers = Vec::new();
    for (code, name) in [
        ("TIDE", "Tidewell Mills"),
        ("CORV", "Corvane Feeds"),
        ("LARK", "Larkrise Nut Packers"),
    ] {
        let body = json!({"code": code, "name": name, "address": "Marram Point",
            "email": format!("grain@{}.example", code.to_lowercase())});
        customers.push(text(
            &quality.ensure("/customers", code, &body).await?,
            "id",
        ));
    }
    let orders = orders(quality, now, &customers).await?;
    let mut sampled = Vec::new();
    for number in 0..LOTS {
        sampled.push(one(people, bench, now, &customers, &orders, number).await?);
    }
    Ok(sampled)
}

struct Order {
    id: String,
    customer: usize,
    commodity: &'static str,
    vomitoxin: bool,
}

async fn orders(quality: &Caller, now: Moment, customers: &[String]) -> Answer<Vec<Order>> {
    type Wanted = (
        &'static str,
        usize,
        &'static str,
        &'static str,
        &'static [&'static str],
        bool,
        &'static str,
    );
    let wanted: [Wanted; 4] = [
        (
            "O-MAIZE",
            0,
            "maize-grain",
            "aflatoxin-total",
            &["food", "feed-dairy-cattle"],
            false,
            "guarded-acceptance",
        ),
        (
            "O-FEED",
            1,
            "maize-grain",
            "aflatoxin-total",
            &["feed-finishing-beef"],
            true,
            "simple",
        ),
        (
            "O-WHEAT",
            1,
            "wheat-grain",
            "deoxynivalenol",
            &["feed-finishing-beef", "feed-swine"],
            true,
            "non-binary",
        ),
        (
            "O-NUTS",
            2,
            "groundnut-kernel",
            "aflatoxin-total",
            &["food"],
            false,
            "simple",
        ),
    ];
    let mut orders = Vec::new();
    for (code, customer, commodity, analyte, uses, number_wanted, rule) in wanted {
        let body = json!({"code": code, "customer": customers.get(customer),
            "received_on": day(now, 30),
            "analytes": [{"analyte": analyte, "number_wanted_above_limit": number_wanted}],
            "uses": uses, "jurisdictions": ["US"], "decision_rule": rule,
            "agreed_on": day(now, 30), "lot_uncertainty": of_lot(code)});
        let made = quality.ensure("/orders", code, &body).await?;
        orders.push(Order {
            id: text(&made, "id"),
            customer,
            commodity,
            vomitoxin: analyte == "deoxynivalenol",
        });
    }
    Ok(orders)
}

/// The mill asks for the doubt of the lot too.
fn of_lot(order: &str) -> Value {
    match order {
        "O-MAIZE" => json!([{"analyte": "aflatoxin-total",
            "model": {"model": "aflatoxin-shelled-corn"}}]),
        _ => json!([]),
    }
}

async fn one(
    people: &People,
    bench: &Bench,
    now: Moment,
    customers: &[String],
    orders: &[Order],
    number: u64,
) -> Answer<Sampled> {
    let analyst = &people.analyst;
    let place = usize::try_from(number % 4).unwrap_or_default();
    let order = orders
        .get(place)
        .ok_or_else(|| crate::error::ApiError::internal("an order of the demo is missing"))?;
    let arrived = day(now, days_ago(number).saturating_add(1));
    let lot_code = format!("MP-L{:03}", number.saturating_add(1));
    let lot = analyst
        .ensure(
            "/lots",
            &lot_code,
            &json!({"code": lot_code, "order": order.id,
                "customer": customers.get(order.customer), "commodity": order.commodity,
                "mass_kg": format!("{}", 18_000 + number * 150),
                "carrier": {"kind": "truck", "registration": format!("DEMO-{number:03}")},
                "arrived_on": arrived, "origin": "hinterland of Marram Point",
                "condition_facts": {"us-food-detain-pending-afla": false}}),
        )
        .await?;
    let lot_id = text(&lot, "id");
    let code = format!("MP-S{:03}", number.saturating_add(1));
    if let Some(found) = analyst.by_code("/samples", "code", &code).await? {
        return Ok(Sampled {
            lot: lot_id,
            sample: text(&found, "id"),
            code,
            vomitoxin: order.vomitoxin,
            number,
        });
    }
    let sampling = analyst
        .post(
            "/samplings",
            &json!({"lot": lot_id, "taken_at": at(now, number, 0), "taken_by": "Driver's gate crew",
                "place": "gate 2", "plan": plan(order.commodity), "increments": 8, "increment_mass_g": "250",
                "aggregate_mass_kg": "2", "pattern": "eight probes of a truck",
                "seal": format!("MP{number:05}")}),
        )
        .await?;
    let sample = analyst
        .post(
            "/samples",
            &json!({"code": code, "barcodes": [format!("9{number:06}")], "purpose": "customer",
                "site": bench.site, "lot": lot_id, "sampling": text(&sampling, "id"),
                "commodity": order.commodity, "mass_g": mass_g(number),
                "received_at": at(now, number, 5), "received_by": people.analyst_id,
                "condition": "dry, sealed",
                "moisture": {"percent": format!("13.{}", number % 10), "method": "moisture meter"},
                "retained": {"mass_g": "500", "place": "shelf B", "until": super::bench::later(now, 90)}}),
        )
        .await?;
    let id = text(&sample, "id");
    // The last three lots still wait for the bench.
    if number < LOTS.saturating_sub(3) {
        prepare(people, bench, now, &id, order.vomitoxin, number).await?;
    }
    Ok(Sampled {
        lot: lot_id,
        sample: id,
        code,
        vomitoxin: order.vomitoxin,
        number,
    })
}

/// The plan that the gate works by: for maize a published one, whose laboratory sample is at least
/// 908 g; else the laboratory's own.
fn plan(commodity: &str) -> &'static str {
    match commodity {
        "maize-grain" => "us-fgis-aflatoxin-truck",
        _ => "MP-SP-1, edition 2",
    }
}

/// One sample that waits for its reviewer is lighter than its plan asks for: the reviewer has to
/// accept that first.
const LIGHT: u64 = 13;

fn mass_g(number: u64) -> &'static str {
    if number == LIGHT { "850" } else { "1000" }
}

async fn prepare(
    people: &People,
    bench: &Bench,
    now: Moment,
    sample: &str,
    vomitoxin: bool,
    number: u64,
) -> Answer<()> {
    let procedure = if vomitoxin {
        &bench.vomitoxin_procedure
    } else {
        &bench.aflatoxin_procedure
    };
    let mut parent = Value::Null;
    let steps = [
        ("ground-sample", 15, json!({"mass_g": "500"})),
        ("test-portion", 20, json!({"mass_g": "10.0"})),
        (
            "extract",
            28,
            json!({"shaking_s": 180, "clarification": "filter", "clarified_volume_ml": "3"}),
        ),
    ];
    for (kind, minutes, more) in steps {
        let mut body = json!({"kind": kind, "sample": sample, "procedure": procedure,
            "by": people.analyst_id, "at": at(now, number, minutes)});
        if let (Some(body), Some(more)) = (body.as_object_mut(), more.as_object()) {
            body.extend(more.clone());
            if !parent.is_null() {
                body.insert("parent".into(), parent.clone());
            }
        }
        let made = people.analyst.post("/preparations", &body).await?;
        parent = made.get("id").cloned().unwrap_or_default();
    }
    Ok(())
}
