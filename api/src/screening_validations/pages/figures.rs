//! The figures of a report as rows: what each is, and its value.

use domain::{
    quantity::Number,
    screening_validations::{ScreeningResponse, StudyReport, ValidationReport, VerificationReport},
    statistics::screening::ResponseDirection,
};

/// A figure.
pub(super) struct Figure {
    /// What it is.
    pub(super) name: String,
    /// Its value.
    pub(super) value: String,
}

fn figure(name: impl Into<String>, value: impl Into<String>) -> Figure {
    Figure {
        name: name.into(),
        value: value.into(),
    }
}

/// A number to six significant figures.
pub(super) fn six(number: Number) -> String {
    let cut = number.0.round_sf(6).unwrap_or(number.0);
    cut.normalize().to_string()
}

/// A share in percent, with two significant figures.
pub(super) fn percent(share: Number) -> String {
    let hundred = rust_decimal::Decimal::ONE_HUNDRED;
    let percent = share.0.checked_mul(hundred).unwrap_or(share.0);
    let cut = percent.round_sf(2).unwrap_or(percent).normalize();
    // Less than a millionth of a percent says no more than that.
    let least = rust_decimal::Decimal::new(1, 6);
    if cut < least {
        format!("less than {least} %")
    } else {
        format!("{cut} %")
    }
}

/// Every figure of a report, in the order in which one follows from another.
pub(super) fn of(report: &StudyReport, response: ScreeningResponse) -> Vec<Figure> {
    let mut figures = Vec::new();
    if let Some(validation) = &report.validation {
        found(&mut figures, validation, response.direction());
    }
    if let Some(verification) = &report.verification {
        verified(&mut figures, verification, report);
    }
    figures
}

fn found(figures: &mut Vec<Figure>, report: &ValidationReport, direction: ResponseDirection) {
    let sign = match direction {
        ResponseDirection::Rising => "−",
        ResponseDirection::Falling => "+",
    };
    let t_of = match direction {
        ResponseDirection::Rising => "(cut-off − mean of the blanks)",
        ResponseDirection::Falling => "(mean of the blanks − cut-off)",
    };
    figures.extend([
        figure("Blanks", report.blanks.to_string()),
        figure("Mean of the blanks", six(report.blank_mean)),
        figure(
            "Standard deviation of the blanks",
            six(report.blank_standard_deviation),
        ),
        figure("Controls at the target", report.positives.to_string()),
        figure("Mean at the target", six(report.target_mean)),
        figure(
            "Standard deviation at the target",
            six(report.target_standard_deviation),
        ),
        figure("Days", report.days.to_string()),
        figure("Laboratories", report.laboratories.to_string()),
        figure(
            format!(
                "Student's t, one-sided, 5 %, {} degrees of freedom",
                report.positives.saturating_sub(1)
            ),
            six(report.cut_off.t),
        ),
        figure(
            format!("Cut-off = mean at the target {sign} t × standard deviation at the target"),
            six(report.cut_off.cut_off),
        ),
        figure(
            format!(
                "The same, to the figures of the target, {}",
                report.screening_target
            ),
            report.rounded_cut_off.to_string(),
        ),
        figure(
            format!("t of the blanks = {t_of} / standard deviation of the blanks"),
            six(report.cut_off.t_blank),
        ),
        figure(
            format!("False-suspect rate: {}", report.rate_obtained_by),
            six(report.cut_off.false_suspect_rate),
        ),
        figure(
            "Controls at the target on the good side of the cut-off",
            report.false_negatives.to_string(),
        ),
        figure(
            "Blanks on its suspect side",
            report.false_suspects.to_string(),
        ),
    ]);
}

fn verified(figures: &mut Vec<Figure>, report: &VerificationReport, of: &StudyReport) {
    figures.extend([
        figure("Cut-off that is verified", of.cut_off.to_string()),
        figure("Blanks", report.blanks.to_string()),
        figure("Blanks that are suspect", report.suspect_blanks.to_string()),
        figure("Controls at the target", report.positives.to_string()),
        figure(
            "Controls at the target that are suspect; all must be",
            report.suspect_positives.to_string(),
        ),
    ]);
}
