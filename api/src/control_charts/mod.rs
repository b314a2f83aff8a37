//! Control charts of what the laboratory recorded of its control materials.
//!
//! Promises the values that the rules judge, each control run by its newest version. Whatever is
//! left out is listed with its reason; around each failed control run stand the runs and results
//! that it puts in doubt. Reads, and writes nothing.

mod gather;
mod list_control_charts;
pub(crate) mod pages;
mod show_control_chart;
mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    laboratories,
};
use chrono::{Days, NaiveDate, NaiveTime, TimeZone as _};
use chrono_tz::Tz;
use domain::{
    analytes::Analyte,
    control_charts::ChartSettings,
    id::{ControlMaterialId, KitLotId, ProcedureId, ReaderId},
    quantity::Number,
    time::Moment,
};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(list_control_charts::list_control_charts)
        .service(show_control_chart::show_control_chart);
}

/// Which control runs of a material are charted, and how.
#[derive(Debug, Clone, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ChartQuery {
    /// By which procedure they were run.
    pub procedure: ProcedureId,
    /// What was measured.
    #[param(inline)]
    pub analyte: Analyte,
    /// Only those of this kit lot.
    pub kit_lot: Option<KitLotId>,
    /// Only those of this reader.
    pub reader: Option<ReaderId>,
    /// Only those read on this day or later, where the laboratory is.
    pub from: Option<NaiveDate>,
    /// Only those read on this day or earlier.
    pub to: Option<NaiveDate>,
    /// Weight of a new value in the weighted average; 0.2 unless given.
    pub lambda: Option<Number>,
    /// How many of its standard deviations the average's limits are away; 3 unless given.
    pub ewma_width: Option<Number>,
    /// What is taken off each deviation of the cumulative sums, in standard deviations; 0.5 unless
    /// given.
    pub cusum_k: Option<Number>,
    /// Above it a cumulative sum signals, in standard deviations; 5 unless given.
    pub cusum_h: Option<Number>,
}

/// What is charted, its period in times.
#[derive(Debug, Clone)]
struct Wanted {
    material: ControlMaterialId,
    procedure: ProcedureId,
    analyte: Analyte,
    kit_lot: Option<KitLotId>,
    reader: Option<ReaderId>,
    from: Option<Moment>,
    before: Option<Moment>,
    settings: ChartSettings,
}

impl Wanted {
    /// What a query asks for; its days are those of the laboratory.
    async fn of(tx: &mut Tx, material: ControlMaterialId, query: &ChartQuery) -> Answer<Self> {
        let usual = ChartSettings::default();
        let settings = ChartSettings {
            lambda: query.lambda.unwrap_or(usual.lambda),
            ewma_width: query.ewma_width.unwrap_or(usual.ewma_width),
            cusum_k: query.cusum_k.unwrap_or(usual.cusum_k),
            cusum_h: query.cusum_h.unwrap_or(usual.cusum_h),
        };
        settings.check().map_err(ApiError::Invalid)?;
        if let (Some(from), Some(to)) = (query.from, query.to)
            && to < from
        {
            let detail = format!("{to} lies before {from}. Give a later day, or none.");
            return Err(ApiError::field("/to", detail));
        }
        let laboratory = laboratories::store::find(tx).await?.content;
        let zone: Tz = laboratory.time_zone.parse().map_err(ApiError::internal)?;
        let after = query.to.and_then(|day| day.checked_add_days(Days::new(1)));
        Ok(Self {
            material,
            procedure: query.procedure,
            analyte: query.analyte,
            kit_lot: query.kit_lot,
            reader: query.reader,
            from: query.from.and_then(|day| begins(zone, day)),
            before: after.and_then(|day| begins(zone, day)),
            settings,
        })
    }
}

/// When a day begins; where a clock was put forward at midnight, an hour later.
fn begins(zone: Tz, day: NaiveDate) -> Option<Moment> {
    let midnight = day.and_time(NaiveTime::MIN);
    let later = midnight.checked_add_signed(chrono::TimeDelta::hours(1))?;
    let local = |time| zone.from_local_datetime(&time).earliest();
    let begins = local(midnight).or_else(|| local(later))?;
    Some(begins.to_utc().into())
}
