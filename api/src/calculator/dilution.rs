//! The factor of a dilution and its uncertainty; what volumes and masses are good for.

use super::table::Source::Example;
use domain::uncertainty::{
    balances::{BalanceInputs, BalanceLimits, balance},
    dilution::{ComputedDilution, DilutionInputs, dilution},
    tolerances::{
        CylinderInputs, CylinderTolerance, PipetteInputs, PipetteLimits, cylinder, pipette,
    },
};

topic! {
    "dilution", "Dilution and measured volumes",
    "What is the factor of a dilution, and how sure are volumes and masses?";

    "factor" = dilution(DilutionInputs) -> ComputedDilution {
        title: "Factor of a dilution",
        summary: "The factor of one step or several, and its uncertainty from the doubts about \
            each volume; sample and diluent of one pipette may share a doubt.",
        source: Example("dilution-one-step-100-plus-500"),
        sample: r#"{"steps":[{"sample":{"volume":"100.0","doubts":[{"source":"systematic",
            "doubt":{"kind":"half-width","half_width":"0.8","shape":"rectangular",
            "relative":false}},{"source":"random","doubt":{"kind":"deviation",
            "standard_deviation":"0.3","observations":1,"relative":false}}]},
            "with":{"kind":"diluent","volume":"500.0","doubts":[{"source":"systematic",
            "doubt":{"kind":"half-width","half_width":"8.0","shape":"rectangular",
            "relative":false}},{"source":"random","doubt":{"kind":"deviation",
            "standard_deviation":"3.0","observations":1,"relative":false}}]}}],
            "coverage":{"by":"factor","factor":"2"}}"#,
    }

    "pipette" = pipette(PipetteInputs) -> PipetteLimits {
        title: "Permissible errors of a pipette",
        summary: "The largest systematic and random error that ISO 8655-2 permits a piston \
            pipette, at its nominal volume or at a lower setting.",
        source: Example("iso8655-1000uL-at-lower-settings"),
        sample: r#"{"nominal_volume_ul":"1000","selected_volume_ul":"200","standard":"iso-8655-2:2002",
            "several_channels":false}"#,
    }

    "cylinder" = cylinder(CylinderInputs) -> CylinderTolerance {
        title: "Tolerance of a measuring cylinder",
        summary: "The tolerance of a graduated cylinder by ISO 4788 or ASTM E1272, and the \
            standard uncertainty that follows.",
        source: Example("astm-e1272-graduated-cylinders"),
        sample: r#"{"standard":"astm-e1272","capacity_ml":"10","class":"B","shape":"rectangular"}"#,
    }

    "balance" = balance(BalanceInputs) -> BalanceLimits {
        title: "Permissible error of a balance",
        summary: "The maximum permissible error of a load on verification and in service (OIML R \
            76-1), and the standard uncertainty that follows.",
        source: Example("oiml-r76-class-ii-balance"),
        sample: r#"{"class":"II","load_g":"50.0","verification_interval_g":"0.01",
            "shape":"rectangular"}"#,
    }
}
