//! The signals of a strip's lines, and whether the reader's own number follows from them.
//!
//! Promises that a number is computed again only from signals that the reader gave and a curve that
//! the kit lot records, on the scale of that curve: without dilution beyond the procedure's own
//! scheme. Signals and numbers are taken to be cut to the places that they are written with, so
//! that they agree where both can be true. Refuses negative signals; computes nothing for an
//! invalid reading, and takes no signal to be too low.
//!
//! What leaves the curve is rounded to six significant figures before it is compared or shown, the
//! ends of a range outwards, so that another machine's logarithms change nothing.

mod compare;
mod response;
#[cfg(test)]
mod tests;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::faults::Faults;
use crate::imports::value_text;
use crate::kit_lots::KitLotEntry;
use crate::procedures::ProcedureEntry;
use crate::quantity::{Concentration, Number};
use crate::results::MeasuringRange;
use crate::runs::{Reading, ReadingKind, Run};

use response::Taken;

/// The signals of a strip's lines as a reader gives them, in its own unit; one may be missing.
///
/// ```
/// use domain::signals::StripSignals;
/// let of = |text: &str| serde_json::from_str::<StripSignals>(text);
/// assert!(of(r#"{"test_line":"1840","control_line":"2000"}"#)?.check().is_ok());
/// assert_eq!(of(r#"{"test_line":"-1"}"#)?.check().unwrap_err().0[0].pointer, "/test_line");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct StripSignals {
    /// Of the analyte's test line, zero or more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_line: Option<Number>,
    /// Of the control line, zero or more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control_line: Option<Number>,
}

impl StripSignals {
    /// What is wrong with the signals.
    ///
    /// # Errors
    /// A negative one, or none at all.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let is_none = self.test_line.is_none() && self.control_line.is_none();
        faults.require(!is_none, "", || {
            "name neither line: give a signal, or leave the member out".to_owned()
        });
        for (signal, pointer) in [
            (self.test_line, "/test_line"),
            (self.control_line, "/control_line"),
        ] {
            if let Some(signal) = signal {
                faults.require(signal.0 >= Decimal::ZERO, pointer, || {
                    format!("{signal} is negative: no signal is")
                });
            }
        }
        faults.into_result()
    }
}

/// What the signals come to by the lot's curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum FromSignals {
    /// A concentration.
    Number {
        /// It, in µg/kg, six significant figures.
        value: Concentration,
    },
    /// The response is at or beyond the asymptote from which concentrations begin.
    BelowCurve,
    /// The response is at or beyond the other asymptote.
    AboveCurve,
    /// The control line has no signal, so that there is no ratio.
    NoRatio,
}

/// A reading beside what its signals come to, on the scale of the lot's curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SignalCheck {
    /// Of what.
    pub analyte: Analyte,
    /// The response that the curve is of; absent where there is no ratio.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub response: Option<Number>,
    /// What the curve makes of it.
    pub from_signals: FromSignals,
    /// The least that the places of the signals and the lot's tolerance leave possible, µg/kg;
    /// absent where all that they leave is above the curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least: Option<Concentration>,
    /// The most that they leave possible, µg/kg; absent where it is above the curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub most: Option<Concentration>,
    /// Whether the reader's own answer lies within.
    pub agrees: bool,
}

/// Compares the readings of a run with their signals, as far as there are signals, and the kit lot
/// records a curve for the analyte and the matrix that the reader used.
///
/// A number agrees where it, give or take half a unit of its last place, lies between least and
/// most. `<2` disagrees where nothing below 2 is possible, `>50` where nothing above 50 is; *not
/// detected* is taken as below the limit of detection, where lot or procedure give one. A response
/// beyond the asymptote of zero stands for zero, one beyond the other for more than any number.
/// A value that contains the dilution factor is brought back to what stood on the strip first.
///
/// ```
/// use domain::kit_lots::KitLotEntry;
/// use domain::runs::{Run, RunContext, RunEntry};
/// use domain::signals::check_signals;
/// let mut lot: KitLotEntry = serde_json::from_str(include_str!("kit_lots/example.json"))?;
/// lot.curves = serde_json::from_str(r#"[{"analyte":"aflatoxin-total",
///     "response":"test-over-control",
///     "curve":{"lower":"0","upper":"2","slope":"1","midpoint":"12.5"}}]"#)?;
/// let mut entry: RunEntry = serde_json::from_str(include_str!("runs/example.json"))?;
/// entry.readings[0].signals = serde_json::from_str(
///     r#"{"test_line":"1840","control_line":"1840"}"#)?;
/// let run = Run::record(entry, &RunContext::default(), vec![])?;
/// assert!(check_signals(&run, &lot, None)[0].agrees, "12.5 on the strip, whatever the factor");
/// lot.curves.clear();
/// assert!(check_signals(&run, &lot, None).is_empty(), "without a curve nothing is known");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn check_signals(
    run: &Run,
    kit_lot: &KitLotEntry,
    procedure: Option<&ProcedureEntry>,
) -> Vec<SignalCheck> {
    if kit_lot.curves.is_empty() {
        return Vec::new();
    }
    let checked = |reading: &Reading| check(run, reading, kit_lot, procedure);
    run.entry.readings.iter().filter_map(checked).collect()
}

fn check(
    run: &Run,
    reading: &Reading,
    kit_lot: &KitLotEntry,
    procedure: Option<&ProcedureEntry>,
) -> Option<SignalCheck> {
    if reading.kind == ReadingKind::Invalid {
        return None;
    }
    let (signals, analyte) = (reading.signals?, reading.analyte);
    let curve = kit_lot.curve_of(analyte, run.entry.matrix.as_deref())?;
    let range = MeasuringRange::of(
        procedure.and_then(|one| one.range_of(analyte)),
        kit_lot.range_of(analyte),
    );
    let found = match response::taken(signals, curve.response)? {
        Taken::NoRatio => {
            return Some(SignalCheck {
                analyte,
                response: None,
                from_signals: FromSignals::NoRatio,
                least: None,
                most: None,
                agrees: false,
            });
        }
        Taken::Response(response) => response.on(curve)?,
    };
    Some(SignalCheck {
        analyte,
        response: Some(found.response),
        from_signals: found.from_signals,
        least: found.least.map(Concentration::from_ug_per_kg),
        most: found.most.map(Concentration::from_ug_per_kg),
        agrees: compare::agrees(run, reading, range, &found)?,
    })
}

impl SignalCheck {
    /// What signals and reader say against each other, in words.
    #[must_use]
    pub fn said(&self, run: &Run) -> String {
        let reading = run.reading_of(self.analyte);
        let own = match reading {
            Some(reading) if reading.value.is_some() => {
                format!("{} {}", value_text(reading), reading.unit.code())
            }
            Some(_) | None => "that nothing was detected".to_owned(),
        };
        let factor = if run.entry.value_includes_factor && !run.factor.is_one() {
            format!(", multiplied by {}", run.factor)
        } else {
            String::new()
        };
        format!(
            "{}: {}; the reader gave {own}{factor}",
            self.analyte,
            self.found()
        )
    }

    /// What the signals come to, in words.
    #[must_use]
    pub fn found(&self) -> String {
        match self.from_signals {
            FromSignals::Number { value } => match (self.least, self.most) {
                (Some(least), Some(most)) => {
                    format!("the signals give {value} µg/kg ({least} to {most} µg/kg)")
                }
                (Some(least), None) => {
                    format!("the signals give {value} µg/kg ({least} µg/kg or more)")
                }
                (None, _) => format!("the signals give {value} µg/kg"),
            },
            FromSignals::BelowCurve => {
                "the signals lie outside the curve, below every concentration".to_owned()
            }
            FromSignals::AboveCurve => {
                "the signals lie outside the curve, above every concentration".to_owned()
            }
            FromSignals::NoRatio => {
                "the control line gave no signal, so that there is no ratio".to_owned()
            }
        }
    }
}
