//! What the template shows, as plain data: every text written out, nothing left to compute.
//!
//! Promises times in the laboratory's zone with their offset, decimals as the certificate has
//! them, and each number with its unit.

mod budget;
mod evidence;
mod front;
mod results;

use super::opened::{Opened, WITHHELD};
use super::pdf::PdfError;
use chrono::Offset as _;
use chrono_tz::Tz;
use domain::certificates::{Certificate, Item, Mass, Person};
use domain::id::SampleId;
use domain::quantity::Unit;
use domain::time::Moment;
use qrcode::QrCode;
use qrcode::render::svg::Color;
use serde::Serialize;

/// The whole document.
#[derive(Debug, Serialize)]
pub(super) struct View {
    title: String,
    language: String,
    number: String,
    renderer: String,
    laboratory: Vec<String>,
    replaces: Option<Replaces>,
    facts: Vec<Fact>,
    results: Vec<results::ResultView>,
    limits: Vec<Fact>,
    rules: Vec<Fact>,
    terms: Vec<String>,
    sections: Vec<Section>,
    statements: Vec<String>,
    check_address: String,
    qr: String,
    withheld: Option<String>,
}

/// A label and what is said under it.
#[derive(Debug, Serialize)]
pub(super) struct Fact {
    label: String,
    text: String,
}

#[derive(Debug, Serialize)]
struct Replaces {
    number: String,
    reason: String,
    changes: Table,
}

/// A part of the evidence.
#[derive(Debug, Serialize)]
pub(super) struct Section {
    title: String,
    facts: Vec<Fact>,
    tables: Vec<Table>,
}

/// A table; figures stand right-aligned.
#[derive(Debug, Serialize)]
pub(super) struct Table {
    caption: String,
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
    note: String,
}

#[derive(Debug, Serialize)]
pub(super) struct Column {
    title: String,
    figures: bool,
    share: u8,
}

/// What the builders of the parts share.
pub(super) struct Writer<'a> {
    certificate: &'a Certificate,
    zone: Tz,
}

/// The data of an opened certificate.
pub(super) fn of(opened: &Opened, renderer: &str) -> Result<View, PdfError> {
    let certificate = &opened.certificate;
    let zone = certificate.time_zone.parse().unwrap_or(Tz::UTC);
    let writer = Writer { certificate, zone };
    let qr = QrCode::new(certificate.check_address.as_bytes())?;
    let withheld = (opened.withheld > 0).then(|| {
        format!(
            "{} names or texts of this certificate have been erased or are withheld; its numbers \
             and decisions are complete.",
            opened.withheld
        )
    });
    Ok(View {
        title: certificate.title.clone(),
        language: certificate.language.clone(),
        number: certificate.number.clone(),
        renderer: renderer.to_owned(),
        laboratory: writer.laboratory(),
        replaces: writer.replaces(),
        facts: writer.facts(),
        results: certificate
            .results
            .iter()
            .enumerate()
            .map(|it| writer.result(it))
            .collect(),
        limits: writer.limits(),
        rules: writer.rules(),
        terms: writer.terms(),
        sections: writer.sections(),
        statements: certificate.statements.clone(),
        check_address: certificate.check_address.clone(),
        qr: qr
            .render::<Color<'_>>()
            .quiet_zone(false)
            .min_dimensions(90, 90)
            .build(),
        withheld,
    })
}

pub(super) use results::CheckedResult;

/// What the check page shows of the results.
pub(super) fn checked(opened: &Opened) -> Vec<CheckedResult> {
    let certificate = &opened.certificate;
    let zone = certificate.time_zone.parse().unwrap_or(Tz::UTC);
    results::checked(&Writer { certificate, zone })
}

fn fact(label: &str, text: impl Into<String>) -> Fact {
    Fact {
        label: label.to_owned(),
        text: text.into(),
    }
}

fn column(title: &str, share: u8) -> Column {
    Column {
        title: title.to_owned(),
        figures: false,
        share,
    }
}

fn figures(title: &str, share: u8) -> Column {
    Column {
        title: title.to_owned(),
        figures: true,
        share,
    }
}

/// Texts that are there, one after the other.
fn joined<'a>(parts: impl IntoIterator<Item = Option<&'a str>>, between: &str) -> String {
    parts
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(between)
}

fn name(person: &Person) -> String {
    person.name.clone().unwrap_or_else(|| WITHHELD.to_owned())
}

fn mass(mass: &Mass) -> String {
    format!("{} {}", mass.value, mass.unit)
}

/// The printed form of a unit's code.
fn printed(unit: Unit) -> &'static str {
    match unit {
        Unit::UgPerKg => "µg/kg",
        Unit::MgPerKg => "mg/kg",
        Unit::NgPerG => "ng/g",
        Unit::UgPerG => "µg/g",
    }
}

impl Writer<'_> {
    /// Day and time of day in the laboratory's zone, with the offset.
    fn moment(&self, moment: Moment) -> String {
        let local = moment.utc().with_timezone(&self.zone);
        let offset = match local.offset().fix().local_minus_utc() {
            0 => "UTC".to_owned(),
            _ => format!("UTC{}", local.format("%:z")),
        };
        format!("{} {offset}", local.format("%Y-%m-%d %H:%M:%S"))
    }

    /// The time of day alone, where the day stands beside it.
    fn clock(&self, moment: Moment) -> String {
        moment
            .utc()
            .with_timezone(&self.zone)
            .format("%H:%M:%S")
            .to_string()
    }

    /// From one moment to another, the day once where it is the same.
    fn span(&self, from: Moment, to: Moment) -> String {
        let day = |moment: Moment| moment.utc().with_timezone(&self.zone).date_naive();
        if day(from) == day(to) {
            let end = self.moment(to);
            let end = end
                .split_once(' ')
                .map_or(end.clone(), |(_, time)| time.to_owned());
            format!("{} {} to {end}", day(from), self.clock(from))
        } else {
            format!("{} to {}", self.moment(from), self.moment(to))
        }
    }

    fn item(&self, sample: SampleId) -> Option<&Item> {
        self.certificate
            .items
            .iter()
            .find(|item| item.sample == sample)
    }

    fn sample_code(&self, sample: SampleId) -> String {
        self.item(sample)
            .map_or_else(|| sample.to_string(), |item| item.code.clone())
    }
}
