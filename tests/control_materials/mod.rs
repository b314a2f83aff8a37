//! Control materials over HTTP.

mod register_control_material;
