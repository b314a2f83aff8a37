//! Samples that are registered from rows, under the lots that the rows name, where the map says so.
//!
//! Promises one sample a code. Leaves a row whose lot nobody knows without a sample: its run is
//! held until somebody assigns it.

use super::{deciding::Decision, knowing::Known};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ids,
    kept::Kept,
    samples,
};
use diesel::result::{DatabaseErrorKind, Error as DieselError};
use domain::{
    id::{LotId, SiteId},
    imports::ReadableRun,
    samples::{Purpose, Sample},
};
use uuid::Uuid;

/// Registers the samples of new runs that are not known yet; tells how many.
///
/// # Errors
/// Where the database fails.
pub(super) async fn samples(
    tx: &mut Tx,
    decisions: &[Decision<'_>],
    known: &mut Known,
) -> Answer<u64> {
    if known.lots.is_empty() {
        return Ok(0);
    }
    let reference = tx.reference().await?;
    let mut new = Vec::new();
    for decision in decisions {
        let Decision::Record(run) = decision else {
            continue;
        };
        let site = reference
            .reader_serials
            .get(&run.run.reader_serial)
            .and_then(|id| reference.readers.get(id))
            .and_then(|reader| reader.content.site);
        if let Some(sample) = sample_of(tx, run, site, known) {
            let kept: Kept<Sample> = Kept::first(tx, ids::fresh::<Uuid>(), sample);
            known.samples.insert(kept.content.code.clone(), kept.id);
            new.push(kept);
        }
    }
    let stored = samples::store::insert_many(tx, &new).await;
    if let Err(ApiError::Duplicate(detail)) = stored {
        // Somebody registered one of them meanwhile: the import is tried again, and finds it.
        return Err(ApiError::internal(DieselError::DatabaseError(
            DatabaseErrorKind::SerializationFailure,
            Box::new(detail),
        )));
    }
    stored?;
    Ok(u64::try_from(new.len()).unwrap_or(u64::MAX))
}

fn sample_of(tx: &Tx, run: &ReadableRun, site: Option<SiteId>, known: &Known) -> Option<Sample> {
    let code = run.run.sample_code.as_ref()?;
    if !run.run.registers_sample || known.samples.contains_key(code) {
        return None;
    }
    let lot = known.lots.get(run.run.lot_code.as_ref()?)?;
    let sample = Sample {
        code: code.clone(),
        barcodes: Vec::new(),
        purpose: Purpose::Customer,
        site,
        lot: Some(LotId(lot.lot_id)),
        sampling: None,
        order: None,
        control_material: None,
        commodity: lot.commodity.clone(),
        mass_g: None,
        // It was here when it was read at the latest; a reader's clock may be ahead.
        received_at: run.run.read_at.at.min(tx.now()),
        received_by: None,
        condition: None,
        moisture: None,
        retained: None,
        custody: Vec::new(),
    };
    sample.check().is_ok().then_some(sample)
}
