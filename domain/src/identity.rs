//! Roles and actions: who may do what, in one table.
//!
//! Promises that every operation asks here and nowhere else; refuses what the table does not grant.

use serde::{Deserialize, Serialize};

/// What somebody is in the laboratory. An account may have several; a client has one.
///
/// ```
/// use domain::identity::Role;
/// assert_eq!("quality-manager".parse(), Ok(Role::QualityManager));
/// assert!("boss".parse::<Role>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Prepares samples, runs strips, records.
    Analyst,
    /// Signs as the second person.
    Reviewer,
    /// Answers for limits, procedures, kit lots and equipment.
    QualityManager,
    /// Looks after accounts and the laboratory's particulars.
    Administrator,
    /// A program: reader export, weighbridge, ERP.
    Integrator,
    /// Sees certificates of their own lots.
    Customer,
    /// Sees limits, records, results and certificates; writes nothing.
    Regulator,
}

/// All roles, in the order in which they are shown.
pub const ROLES: [Role; 7] = [
    Role::Analyst,
    Role::Reviewer,
    Role::QualityManager,
    Role::Administrator,
    Role::Integrator,
    Role::Customer,
    Role::Regulator,
];

impl Role {
    /// Its name in records and on the wire.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Analyst => "analyst",
            Self::Reviewer => "reviewer",
            Self::QualityManager => "quality-manager",
            Self::Administrator => "administrator",
            Self::Integrator => "integrator",
            Self::Customer => "customer",
            Self::Regulator => "regulator",
        }
    }
}

/// No role has this name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("there is no role \"{0}\"")]
pub struct UnknownRole(pub String);

impl std::str::FromStr for Role {
    type Err = UnknownRole;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        ROLES
            .into_iter()
            .find(|role| role.name() == text)
            .ok_or_else(|| UnknownRole(text.chars().take(40).collect()))
    }
}

macro_rules! actions {
    ($($(#[$doc:meta])* $name:ident = $kebab:literal: [$($role:ident),+];)*) => {
        /// What can be done, each with the name that its acts carry.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Action { $($(#[$doc])* $name,)* }

        /// All actions, in the order of the table.
        pub const ACTIONS: &[Action] = &[$(Action::$name,)*];

        impl Action {
            /// Its name in acts, in kebab case.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$name => $kebab,)* }
            }

            /// The roles that may do it, the one that acts are recorded under first.
            #[must_use]
            pub const fn roles(self) -> &'static [Role] {
                match self { $(Self::$name => &[$(Role::$role),+],)* }
            }
        }
    };
}

actions! {
    // laboratories, accounts
    /// See the laboratory's own particulars.
    ReadLaboratory = "read-laboratory": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Customer, Regulator];
    /// State why the log cannot be continued, and begin the next.
    BeginLog = "begin-log": [QualityManager];
    /// Change the laboratory's particulars.
    ReviseLaboratory = "revise-laboratory": [QualityManager, Administrator];
    /// See sites and their benches.
    ReadSites = "read-sites": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Register a site.
    RegisterSite = "register-site": [QualityManager, Administrator];
    /// Change a site or its bench.
    ReviseSite = "revise-site": [QualityManager, Administrator];
    /// See accounts and clients.
    ReadAccounts = "read-accounts": [QualityManager, Administrator];
    /// Register an account.
    RegisterAccount = "register-account": [Administrator];
    /// Change an account, its roles or its authorisations, or close it.
    ReviseAccount = "revise-account": [Administrator];
    /// Register a service client.
    RegisterClient = "register-client": [Administrator];
    /// Change or close a service client.
    ReviseClient = "revise-client": [Administrator];
    /// Change one's own password.
    ChangePassword = "change-password": [Analyst, Reviewer, QualityManager, Administrator, Customer, Regulator];
    // customers, orders, goods
    /// See customers.
    ReadCustomers = "read-customers": [Analyst, Reviewer, QualityManager, Administrator, Integrator];
    /// Register a customer.
    RegisterCustomer = "register-customer": [Analyst, QualityManager, Administrator, Integrator];
    /// Change a customer's particulars.
    ReviseCustomer = "revise-customer": [Analyst, QualityManager, Administrator];
    /// See orders.
    ReadOrders = "read-orders": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Register an order.
    RegisterOrder = "register-order": [Analyst, QualityManager, Integrator];
    /// Change an order.
    ReviseOrder = "revise-order": [Analyst, QualityManager];
    /// See lots (a customer: their own).
    ReadLots = "read-lots": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Customer, Regulator];
    /// Register a lot or sublot.
    RegisterLot = "register-lot": [Analyst, QualityManager, Integrator];
    /// Change a lot's particulars.
    ReviseLot = "revise-lot": [Analyst, QualityManager];
    /// See samplings.
    ReadSamplings = "read-samplings": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Record how a lot was sampled.
    RecordSampling = "record-sampling": [Analyst, QualityManager, Integrator];
    /// Correct a sampling.
    ReviseSampling = "revise-sampling": [Analyst, QualityManager];
    /// See samples.
    ReadSamples = "read-samples": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Register a sample.
    RegisterSample = "register-sample": [Analyst, QualityManager, Integrator];
    /// Change a sample's particulars.
    ReviseSample = "revise-sample": [Analyst, QualityManager];
    /// Record who had a sample when.
    RecordCustody = "record-custody": [Analyst, Reviewer, QualityManager, Integrator];
    // the bench
    /// See preparations.
    ReadPreparations = "read-preparations": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Record grinding, weighing and extraction.
    RecordPreparation = "record-preparation": [Analyst];
    /// Correct a preparation.
    RevisePreparation = "revise-preparation": [Analyst];
    /// See procedures.
    ReadProcedures = "read-procedures": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Write a procedure or a new version of it.
    DraftProcedure = "draft-procedure": [QualityManager];
    /// Adopt or retire a procedure.
    AdoptProcedure = "adopt-procedure": [QualityManager];
    /// See validations of screening methods, and their reports.
    ReadScreeningValidations = "read-screening-validations": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Record a validation of a screening method, as a draft.
    RecordScreeningValidation = "record-screening-validation": [Analyst, QualityManager];
    /// Change the draft of a validation.
    ReviseScreeningValidation = "revise-screening-validation": [Analyst, QualityManager];
    /// Adopt a validation with its figures.
    AdoptScreeningValidation = "adopt-screening-validation": [QualityManager];
    /// Withdraw a validation.
    WithdrawScreeningValidation = "withdraw-screening-validation": [QualityManager];
    /// See reviews of validations.
    ReadScreeningReviews = "read-screening-reviews": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Review a validation with the controls of a period.
    ReviewScreeningValidation = "review-screening-validation": [QualityManager];
    /// See kit lots.
    ReadKitLots = "read-kit-lots": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Register a kit lot.
    RegisterKitLot = "register-kit-lot": [Analyst, QualityManager];
    /// Change a kit lot's particulars.
    ReviseKitLot = "revise-kit-lot": [QualityManager];
    /// Record a receipt of tests.
    ReceiveKitLot = "receive-kit-lot": [Analyst, QualityManager];
    /// Accept, reject or recall a kit lot.
    DecideKitLot = "decide-kit-lot": [QualityManager];
    /// See readers.
    ReadReaders = "read-readers": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Register a reader.
    RegisterReader = "register-reader": [QualityManager];
    /// Change a reader's particulars.
    ReviseReader = "revise-reader": [QualityManager];
    /// Record that a lot's curve was loaded.
    LoadCurve = "load-curve": [Analyst, QualityManager];
    /// Report that a reader's port is faulty.
    ReportPortFault = "report-port-fault": [Analyst, QualityManager];
    /// Record that a reader's port is mended.
    MendPort = "mend-port": [QualityManager];
    /// See equipment and its checks.
    ReadEquipment = "read-equipment": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Register equipment.
    RegisterEquipment = "register-equipment": [QualityManager];
    /// Change equipment's particulars.
    ReviseEquipment = "revise-equipment": [QualityManager];
    /// Record a check or calibration.
    RecordCheck = "record-check": [Analyst, QualityManager];
    /// Correct a check or calibration.
    ReviseCheck = "revise-check": [QualityManager];
    /// See control materials.
    ReadControlMaterials = "read-control-materials": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Register a control material.
    RegisterControlMaterial = "register-control-material": [QualityManager];
    /// Change a control material.
    ReviseControlMaterial = "revise-control-material": [QualityManager];
    /// Take a mass from a control material's stock.
    DrawControlMaterial = "draw-control-material": [Analyst, QualityManager];
    /// See control charts, and what a failed control run puts in doubt.
    ReadControlCharts = "read-control-charts": [Analyst, Reviewer, QualityManager, Administrator, Regulator];
    /// See series.
    ReadSeries = "read-series": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Open a series.
    OpenSeries = "open-series": [Analyst, Integrator];
    /// Close a series.
    CloseSeries = "close-series": [Analyst];
    // runs and results
    /// See runs.
    ReadRuns = "read-runs": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Begin a run.
    BeginRun = "begin-run": [Analyst];
    /// Record a run and its readings.
    RecordRun = "record-run": [Analyst, Integrator];
    /// Say which sample a run belongs to.
    AssignRun = "assign-run": [Analyst];
    /// Correct, move or withdraw a run.
    CorrectRun = "correct-run": [Analyst];
    /// See results and where a lot may go.
    ReadResults = "read-results": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Compute a result again.
    ComputeResult = "compute-result": [Analyst, Reviewer, QualityManager];
    /// Cancel a result.
    CancelResult = "cancel-result": [QualityManager];
    /// See holds.
    ReadHolds = "read-holds": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// Place a hold.
    PlaceHold = "place-hold": [Analyst, Reviewer, QualityManager];
    /// Lift a hold by a reasoned acceptance.
    AcceptHold = "accept-hold": [Reviewer, QualityManager];
    /// See limits, and which apply.
    ReadLimits = "read-limits": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Customer, Regulator];
    /// Propose a limit of a contract, of the intake, or of a law that is not shipped.
    ProposeLimit = "propose-limit": [QualityManager];
    /// Change a limit that is proposed and not adopted yet.
    ReviseLimit = "revise-limit": [QualityManager];
    /// Adopt or retire a limit.
    AdoptLimit = "adopt-limit": [QualityManager];
    /// See reviews.
    ReadReviews = "read-reviews": [Analyst, Reviewer, QualityManager, Administrator, Regulator];
    /// Release results with a signature.
    ReleaseResults = "release-results": [Reviewer];
    /// Return results to the analyst.
    ReturnResults = "return-results": [Reviewer];
    /// See corrections.
    ReadCorrections = "read-corrections": [Analyst, Reviewer, QualityManager, Administrator, Regulator];
    /// Correct what was recorded.
    RecordCorrection = "record-correction": [Analyst, QualityManager];
    /// See certificates (a customer: of their own lots).
    ReadCertificates = "read-certificates": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Customer, Regulator];
    /// Issue a certificate.
    IssueCertificate = "issue-certificate": [Reviewer, QualityManager];
    /// Replace or withdraw a certificate.
    AmendCertificate = "amend-certificate": [Reviewer, QualityManager];
    /// See the records of any subject.
    ReadRecords = "read-records": [Analyst, Reviewer, QualityManager, Administrator, Regulator];
    /// See what was erased.
    ReadErasures = "read-erasures": [QualityManager, Administrator, Regulator];
    /// Erase personal data or free text that the law asks to be erased.
    EraseDisclosures = "erase-disclosures": [QualityManager, Administrator];
    /// Read the log: checkpoints, tiles, entries. Where the laboratory made it public, anybody may.
    ReadLog = "read-log": [Analyst, Reviewer, QualityManager, Administrator, Integrator, Regulator];
    /// See the laboratory's keys.
    ReadKeys = "read-keys": [QualityManager, Administrator, Regulator];
    /// Announce a new key of the laboratory.
    AnnounceKey = "announce-key": [QualityManager];
    /// Withdraw a key of the laboratory.
    WithdrawKey = "withdraw-key": [QualityManager];
    // imports
    /// See column maps.
    ReadColumnMaps = "read-column-maps": [Analyst, Reviewer, QualityManager, Administrator, Integrator];
    /// Write a column map or a new version of it.
    DraftColumnMap = "draft-column-map": [QualityManager, Administrator];
    /// See imports and what they refused.
    ReadImports = "read-imports": [Analyst, Reviewer, QualityManager, Administrator, Integrator];
    /// Post a reader's export.
    ImportReadings = "import-readings": [Analyst, Integrator];
    /// Mend a refused row.
    MendRow = "mend-row": [Analyst, Integrator];
}

/// Whether a role may do something.
///
/// ```
/// use domain::identity::{permits, Action, Role};
/// assert!(permits(Role::Reviewer, Action::ReleaseResults));
/// assert!(!permits(Role::Analyst, Action::ReleaseResults));
/// ```
#[must_use]
pub fn permits(role: Role, action: Action) -> bool {
    action.roles().contains(&role)
}

/// The table as text, a line an action: what a laboratory's manager can read and sign.
///
/// ```
/// let table = domain::identity::table();
/// assert!(table.lines().any(|line| line.starts_with("release-results") && line.contains("reviewer")));
/// ```
#[must_use]
pub fn table() -> String {
    ACTIONS
        .iter()
        .map(|action| {
            let roles: Vec<&str> = action.roles().iter().map(|role| role.name()).collect();
            format!("{:<26} {}\n", action.name(), roles.join(", "))
        })
        .collect()
}
