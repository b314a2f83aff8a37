//! Control materials: assigned values, dates and stock.
//!
//! Refuses a commodity that the vocabulary does not have, and to take more than is left.

mod draw_control_material;
mod list_control_materials;
mod register_control_material;
mod revise_control_material;
mod show_control_material;
pub(crate) mod store;
mod wire;

use crate::{error::ApiError, request::Entered};
use domain::{
    commodities,
    control_materials::{ControlMaterial, StockError},
    faults::Faults,
};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_control_material::register_control_material)
        .service(list_control_materials::list_control_materials)
        .service(show_control_material::show_control_material)
        .service(revise_control_material::revise_control_material)
        .service(draw_control_material::draw_control_material);
}

impl Entered for ControlMaterial {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("", ControlMaterial::check(self));
        commodities::require_commodity(&mut faults, "/commodity", &self.commodity);
        faults.into_result()
    }
}

impl From<StockError> for ApiError {
    fn from(error: StockError) -> Self {
        match error {
            StockError::NoMass(_) => Self::field("/mass_g", format!("{error}.")),
            StockError::NotEnough { .. } => {
                Self::refused("stock-too-small", format!("Refused: {error}."))
            }
        }
    }
}
