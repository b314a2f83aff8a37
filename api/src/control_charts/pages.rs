//! Control charts as pages: what there are control runs of, and the charts of one of them.
//!
//! Promises the figures of the API, each picture with its numbers in the table below, and links to
//! the samples that a failed control run puts in doubt. Refuses what the API refuses.

mod pictures;
mod words;

use super::{ChartQuery, Wanted, gather::gather, list_control_charts as list, wire};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    identity::{Action, InLab},
    pages::{Cell, Column, Frame, ListPage, Page, Visit, analyte, count},
};
use actix_web::{get, http::StatusCode, web};
use askama::Template;
use domain::id::ControlMaterialId;
use pictures::{Picture, pictures};
use std::str::FromStr;
use words::{DoubtItem, LeftOutRow, PointRow};

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config
        .service(control_charts_page)
        .service(control_chart_page);
}

#[get("/{lab}/control-charts")]
async fn control_charts_page(visit: Visit) -> Page {
    visit
        .show(
            Action::ReadControlCharts,
            "control charts",
            StatusCode::OK,
            async |tx, frame| {
                let filter = list::ControlChartFilter::default();
                let items = list::items(tx, &frame.slug, &filter).await?;
                let number = i64::try_from(items.len()).unwrap_or(i64::MAX);
                Ok(ListPage {
                    answer: match number {
                        0 => "No control run is recorded yet.".to_owned(),
                        some => format!("{}.", count(some, "control chart", "control charts")),
                    },
                    rows: items.iter().map(|item| row(&frame, item)).collect(),
                    frame,
                    title: "Control charts",
                    columns: vec![
                        Column::words("Control material"),
                        Column::words("Procedure"),
                        Column::words("Analyte"),
                        Column::words("Kit lots"),
                        Column::words("Readers"),
                        Column::figures("Control runs"),
                        Column::words("Last read"),
                    ],
                    empty: "Each control material would be here with the procedure and analyte it \
                        was run for. A control run is a run of a sample whose purpose is control.",
                    next: None,
                })
            },
        )
        .await
}

fn row(frame: &Frame, item: &wire::ControlChartItem) -> Vec<Cell> {
    let href = frame.at(&format!(
        "control-charts/{}?procedure={}&analyte={}",
        item.control_material,
        item.procedure,
        item.analyte.slug()
    ));
    let kit_lots = item.groups.iter().map(|group| &group.kit_lot_code);
    let readers = item.groups.iter().map(|group| &group.reader_serial);
    vec![
        Cell::Lead(item.control_material_code.clone(), href),
        item.procedure_code.clone().into(),
        analyte(item.analyte).into(),
        each_once(kit_lots).into(),
        each_once(readers).into(),
        item.runs.to_string().into(),
        Cell::Made(frame.moment(item.last_read_at)),
    ]
}

fn each_once<'a>(words: impl Iterator<Item = &'a String>) -> String {
    let mut found: Vec<&str> = words.map(String::as_str).collect();
    found.sort_unstable();
    found.dedup();
    found.join(", ")
}

/// What the form asks for; an empty field asks for nothing.
#[derive(Debug, serde::Deserialize)]
struct Asked {
    procedure: String,
    analyte: String,
    #[serde(default)]
    kit_lot: String,
    #[serde(default)]
    reader: String,
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
}

/// What a field of the form says, where it says something.
fn field<T: FromStr>(name: &str, text: &str) -> Answer<Option<T>>
where
    T::Err: std::fmt::Display,
{
    if text.trim().is_empty() {
        return Ok(None);
    }
    let read = text.trim().parse().map_err(|fault| {
        let detail = format!("\"{text}\" cannot be read: {fault}. Choose one, or leave it empty.");
        ApiError::field(format!("/{name}"), detail)
    });
    read.map(Some)
}

impl Asked {
    fn query(&self) -> Answer<ChartQuery> {
        let missing = |name: &str| {
            let detail = "is missing. Choose a chart from the list of control charts.";
            ApiError::field(format!("/{name}"), detail)
        };
        Ok(ChartQuery {
            procedure: field("procedure", &self.procedure)?.ok_or_else(|| missing("procedure"))?,
            analyte: field("analyte", &self.analyte)?.ok_or_else(|| missing("analyte"))?,
            kit_lot: field("kit_lot", &self.kit_lot)?,
            reader: field("reader", &self.reader)?,
            from: field("from", &self.from)?,
            to: field("to", &self.to)?,
            lambda: None,
            ewma_width: None,
            cusum_k: None,
            cusum_h: None,
        })
    }
}

/// A choice of the form.
struct Choice {
    value: String,
    word: String,
    chosen: bool,
}

#[derive(Template)]
#[template(path = "control_charts/control_chart.html")]
struct ControlChartPage {
    frame: Frame,
    title: String,
    answer: String,
    evidence: Vec<String>,
    procedure: String,
    analyte: String,
    kit_lots: Vec<Choice>,
    readers: Vec<Choice>,
    from: String,
    to: String,
    pictures: Vec<Picture>,
    points: Vec<PointRow>,
    facts: Vec<(&'static str, String)>,
    for_procedure: String,
    doubts: Vec<DoubtItem>,
    left_out: Vec<LeftOutRow>,
    not_computed: Vec<String>,
}

#[get("/{lab}/control-charts/{id}")]
async fn control_chart_page(
    visit: Visit,
    control_material: InLab<ControlMaterialId>,
    asked: web::Query<Asked>,
) -> Page {
    visit
        .show(
            Action::ReadControlCharts,
            "control charts",
            StatusCode::OK,
            async |tx, frame| read(tx, frame, control_material.id(), &asked).await,
        )
        .await
}

async fn read(
    tx: &mut Tx,
    frame: Frame,
    material: ControlMaterialId,
    asked: &Asked,
) -> Answer<ControlChartPage> {
    let query = asked.query()?;
    let wanted = Wanted::of(tx, material, &query).await?;
    let gathered = gather(tx, &wanted).await?;
    let filter = list::ControlChartFilter {
        control_material: Some(material),
        procedure: Some(query.procedure),
        analyte: Some(query.analyte),
    };
    let items = list::items(tx, &frame.slug, &filter).await?;
    let groups: Vec<&wire::ControlGroupView> =
        items.iter().flat_map(|item| item.groups.iter()).collect();
    let kit_lots = groups
        .iter()
        .map(|group| (group.kit_lot.to_string(), group.kit_lot_code.clone()));
    let readers = groups
        .iter()
        .map(|group| (group.reader.to_string(), group.reader_serial.clone()));
    let reference = &gathered.reference;
    let code = reference.control_materials.get(&material.0);
    let code = code.map(|one| one.content.code.clone()).unwrap_or_default();
    let procedure = reference.procedures.get(&query.procedure.0);
    let procedure = procedure.map(|one| one.content.entry.code.clone());
    Ok(ControlChartPage {
        title: format!(
            "Control chart of {code}, {}, by {}",
            analyte(query.analyte),
            procedure.unwrap_or_default()
        ),
        answer: words::answer(&gathered, &wanted, &code),
        evidence: words::evidence(&gathered, &wanted),
        procedure: query.procedure.to_string(),
        analyte: query.analyte.slug().to_owned(),
        kit_lots: choices(kit_lots, &asked.kit_lot),
        readers: choices(readers, &asked.reader),
        from: asked.from.clone(),
        to: asked.to.clone(),
        pictures: pictures(&gathered),
        points: words::points(&frame, &gathered),
        facts: words::facts(&gathered),
        for_procedure: words::for_procedure(&gathered)?,
        doubts: words::doubts(&frame, &gathered),
        left_out: words::left_out(&frame, &gathered),
        not_computed: words::not_computed(&gathered),
        frame,
    })
}

fn choices(all: impl Iterator<Item = (String, String)>, chosen: &str) -> Vec<Choice> {
    let mut found: Vec<(String, String)> = all.map(|(value, word)| (word, value)).collect();
    found.sort_unstable();
    found.dedup();
    let choice = |(word, value): (String, String)| Choice {
        chosen: value == chosen,
        value,
        word,
    };
    found.into_iter().map(choice).collect()
}
