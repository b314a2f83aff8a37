//! One id type for each kind of thing, so that a sample's id cannot stand where a lot's is due.
//!
//! All are UUIDs, version 7, made by the service; this crate makes none. In a record they are
//! written in lower case.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        ///
        /// ```
        #[doc = concat!("use domain::id::", stringify!($name), ";")]
        #[doc = concat!("let id: ", stringify!($name), " = \"019ca869-5003-7d46-b59c-6cf85cca57e4\".parse()?;")]
        /// assert_eq!(id.to_string(), "019ca869-5003-7d46-b59c-6cf85cca57e4");
        #[doc = concat!("assert!(\"S-0007\".parse::<", stringify!($name), ">().is_err());")]
        /// # Ok::<(), uuid::Error>(())
        /// ```
        #[derive(
            Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
        )]
        #[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl std::str::FromStr for $name {
            type Err = uuid::Error;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Uuid::parse_str(text).map(Self)
            }
        }

        impl From<Uuid> for $name {
            fn from(id: Uuid) -> Self {
                Self(id)
            }
        }

        impl From<$name> for Uuid {
            fn from(id: $name) -> Self {
                id.0
            }
        }
    )*};
}

ids! {
    /// A laboratory: the tenant that owns every other thing.
    LaboratoryId;
    /// A place of the laboratory.
    SiteId;
    /// A person's account.
    AccountId;
    /// A service client (reader export, weighbridge, ERP).
    ClientId;
    /// Who ordered.
    CustomerId;
    /// What a customer asked for.
    OrderId;
    /// The goods.
    LotId;
    /// The taking of increments from a lot.
    SamplingId;
    /// The laboratory sample.
    SampleId;
    /// Ground sample, test portion or extract.
    PreparationId;
    /// A written method; its versions share this id.
    ProcedureId;
    /// A lot of test kits.
    KitLotId;
    /// The instrument that reads strips.
    ReaderId;
    /// Balance, pipette, grinder, timer and the like.
    EquipmentId;
    /// A check or calibration of one piece of equipment.
    EquipmentCheckId;
    /// A control material.
    ControlMaterialId;
    /// The runs that share their control runs.
    SeriesId;
    /// One strip developed on one port.
    RunId;
    /// What is reported for one sample and analyte.
    ResultId;
    /// What stands between a result and its release.
    HoldId;
    /// A limit of a jurisdiction, a contract or the intake.
    LimitId;
    /// A validation of a screening method.
    ScreeningValidationId;
    /// A review of such a validation.
    ScreeningReviewId;
    /// A second person's signature, or a return.
    ReviewId;
    /// A correction of a recorded thing.
    CorrectionId;
    /// A certificate.
    CertificateId;
    /// An import of a reader's export.
    ImportId;
    /// A column map.
    ColumnMapId;
    /// An act: what one actor did in one transaction.
    ActId;
    /// A key of the laboratory.
    KeyId;
}
