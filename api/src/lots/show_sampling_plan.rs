//! Says what is to be taken from a lot.
//!
//! Refuses a lot whose mass is not recorded, a plan that is not known, and one that is not for such
//! a lot. To a customer that may not know of the lot, there is no such lot.

use super::{store, wire::LotView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::Data,
};
use actix_web::{HttpResponse, get, web};
use chrono::NaiveDate;
use domain::{
    id::LotId,
    quantity::Number,
    sampling_plans::{
        PlanForLot, ProbeInputs, ProbePattern, SamplingPlanInputs, family_named, plan_for,
        plans_for, probe_pattern,
    },
};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// Which plan is asked for, and what else it depends on.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct PlanAsked {
    /// The plan, by the name that its rows share; else every plan that speaks of such a lot.
    #[param(example = "eu-2023-cereal")]
    pub plan: Option<String>,
    /// The day of sampling; else the day on which the lot arrived.
    pub on: Option<NaiveDate>,
    /// Whether the lot can be divided into sublots; yes where nothing is said.
    pub separable: Option<bool>,
    /// What carries the grain, for where to probe: `flat-truck` with a depth, `barge` with a
    /// length, `trough-hopper-car` or `open-hopper-car`.
    pub carrier: Option<String>,
    /// Depth of the grain in a flat-bottom truck, ft.
    #[param(value_type = Option<String>, example = "4")]
    pub depth_ft: Option<Number>,
    /// Length of the grain surface of a barge, ft.
    #[param(value_type = Option<String>, example = "195")]
    pub length_ft: Option<Number>,
}

/// What is to be taken from a lot.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct LotSamplingPlan {
    /// What each plan asks for; of each sublot, where the lot is to be divided.
    pub plans: Vec<PlanForLot>,
    /// Where to probe, where a carrier is named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probes: Option<ProbePattern>,
}

/// Show sampling plan
///
/// How many increments, of which mass, to how many laboratory samples, and where to probe.
#[utoipa::path(tag = "lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = LotId, Path, description = "Lot"), PlanAsked),
    responses((status = 200, body = LotSamplingPlan), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/lots/{id}/sampling-plan")]
pub(super) async fn show_sampling_plan(
    actor: Actor,
    lot: InLab<LotId>,
    asked: web::Query<PlanAsked>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadLots, lot.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, lot.id().0).await)
        .await?;
    let view = LotView::to(permit.only_customer(), kept)
        .ok_or_else(|| ApiError::missing("lot", lot.id()))?;
    let plan = LotSamplingPlan {
        plans: plans(&view, &asked)?,
        probes: probes(&asked)?,
    };
    Ok(HttpResponse::Ok().json(plan))
}

fn plans(view: &LotView, asked: &PlanAsked) -> Answer<Vec<PlanForLot>> {
    let lot = &view.lot;
    let mass_t = lot
        .mass_kg
        .and_then(|mass| mass.0.checked_div(Decimal::ONE_THOUSAND))
        .map(|mass| Number(mass.normalize()))
        .ok_or_else(|| {
            ApiError::refused(
                "no-lot-mass",
                format!(
                    "The mass of lot {} is not recorded, and what is to be taken depends on it. \
                     Record the mass first.",
                    lot.code
                ),
            )
        })?;
    let on = asked.on.unwrap_or(lot.arrived_on);
    let separable = asked.separable.unwrap_or(true);
    let Some(plan) = &asked.plan else {
        return plans_for(mass_t, &lot.commodity, on, separable).map_err(not_computed);
    };
    let inputs = SamplingPlanInputs {
        family: family_named(plan, &lot.commodity)
            .unwrap_or(plan)
            .to_owned(),
        lot_mass_t: mass_t,
        separable,
        commodity: Some(lot.commodity.clone()),
        on: Some(on),
    };
    Ok(vec![plan_for(&inputs).map_err(not_computed)?])
}

fn probes(asked: &PlanAsked) -> Answer<Option<ProbePattern>> {
    let Some(carrier) = &asked.carrier else {
        return Ok(None);
    };
    let mut of = serde_json::json!({"carrier": carrier});
    for (name, value) in [("depth_ft", asked.depth_ft), ("length_ft", asked.length_ft)] {
        if let (Some(members), Some(value)) = (of.as_object_mut(), value) {
            members.insert(name.to_owned(), value.to_string().into());
        }
    }
    let of = serde_json::from_value(of).map_err(|fault| {
        ApiError::Malformed(format!(
            "{fault}. Give carrier=flat-truck with depth_ft, carrier=barge with length_ft, \
             carrier=trough-hopper-car or carrier=open-hopper-car."
        ))
    })?;
    let pattern = probe_pattern(&ProbeInputs { of }).map_err(not_computed)?;
    Ok(Some(pattern))
}

const fn not_computed(fault: domain::statistics::StatisticsError) -> ApiError {
    ApiError::NotComputed {
        fault,
        pointer: None,
    }
}
