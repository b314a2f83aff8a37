//! Which column is which.
//!
//! Promises the position of every mapped field, names compared without regard to case and outer
//! spaces. Refuses headers that lack a mapped column (naming all that are missing and all that
//! are there), and headers with one name twice. Columns without a name are not looked at.

use std::collections::{BTreeSet, HashMap};

use super::{ExportRefusal, fold};
use crate::analytes::Analyte;
use crate::column_maps::{ColumnMap, ControlLineColumn, FieldSource, ReadingColumns, TimeSource};
use crate::id::AccountId;

/// Where a field's text stands.
#[derive(Debug, Clone, Copy)]
pub(super) enum Cell<'m> {
    Column { position: usize, name: &'m str },
    Fixed(&'m str),
    Absent,
}

/// Where a time's text stands.
#[derive(Debug, Clone, Copy)]
pub(super) enum TimeCell<'m> {
    One(Cell<'m>),
    Two(Cell<'m>, Cell<'m>),
    Absent,
}

/// Where the readings stand.
pub(super) enum ReadingCells<'m> {
    ByRow {
        analyte: Cell<'m>,
        cells: ValueCells<'m>,
    },
    ByColumn(Vec<(Analyte, ValueCells<'m>)>),
}

/// Where one reading stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct ValueCells<'m> {
    pub(super) value: Cell<'m>,
    pub(super) multiplied: Cell<'m>,
    pub(super) unit: Cell<'m>,
    pub(super) test_line: Cell<'m>,
    pub(super) control_line: Cell<'m>,
}

/// Every mapped field's place.
pub(super) struct Layout<'m> {
    pub(super) reader_serial: Cell<'m>,
    pub(super) port: Cell<'m>,
    pub(super) read_at: TimeCell<'m>,
    pub(super) started_at: TimeCell<'m>,
    pub(super) sample_code: Cell<'m>,
    pub(super) lot_code: Cell<'m>,
    pub(super) kit_lot_code: Cell<'m>,
    pub(super) curve_lot_code: Cell<'m>,
    pub(super) matrix: Cell<'m>,
    pub(super) operator: Cell<'m>,
    pub(super) stated_factor: Cell<'m>,
    pub(super) strip_barcode: Cell<'m>,
    pub(super) comment: Cell<'m>,
    pub(super) control_line: Option<(Cell<'m>, &'m ControlLineColumn)>,
    pub(super) readings: ReadingCells<'m>,
    pub(super) volumes: Vec<(Cell<'m>, Cell<'m>)>,
    /// Names in the header row that the map does not use.
    pub(super) extra: Vec<String>,
    /// The map's operators and analytes by their folded names.
    pub(super) operators: HashMap<String, AccountId>,
    pub(super) analytes: HashMap<String, Analyte>,
}

struct Finder {
    positions: HashMap<String, usize>,
    used: BTreeSet<usize>,
    missing: Vec<String>,
}

impl Finder {
    fn column<'m>(&mut self, name: &'m str) -> Cell<'m> {
        match self.positions.get(&fold(name)) {
            Some(&position) => {
                self.used.insert(position);
                Cell::Column { position, name }
            }
            None => {
                if !self.missing.iter().any(|known| fold(known) == fold(name)) {
                    self.missing.push(name.to_owned());
                }
                Cell::Absent
            }
        }
    }

    fn optional<'m>(&mut self, name: Option<&'m String>) -> Cell<'m> {
        name.map_or(Cell::Absent, |name| self.column(name))
    }

    fn source<'m>(&mut self, source: &'m FieldSource) -> Cell<'m> {
        match source {
            FieldSource::Column(name) => self.column(name),
            FieldSource::Fixed(text) => Cell::Fixed(text),
        }
    }

    fn optional_source<'m>(&mut self, source: Option<&'m FieldSource>) -> Cell<'m> {
        source.map_or(Cell::Absent, |source| self.source(source))
    }

    fn time<'m>(&mut self, source: Option<&'m TimeSource>) -> TimeCell<'m> {
        match source {
            None => TimeCell::Absent,
            Some(TimeSource::Column(name)) => TimeCell::One(self.column(name)),
            Some(TimeSource::DateAndTime(pair)) => {
                TimeCell::Two(self.column(&pair.date), self.column(&pair.time))
            }
        }
    }

    fn readings<'m>(&mut self, readings: &'m ReadingColumns) -> ReadingCells<'m> {
        match readings {
            ReadingColumns::ByRow(row) => ReadingCells::ByRow {
                analyte: self.source(&row.analyte),
                cells: ValueCells {
                    value: self.column(&row.value),
                    multiplied: self.optional(row.multiplied_value.as_ref()),
                    unit: self.source(&row.unit),
                    test_line: self.optional(row.test_line_signal.as_ref()),
                    control_line: self.optional(row.control_line_signal.as_ref()),
                },
            },
            ReadingColumns::ByColumn(list) => ReadingCells::ByColumn(
                list.iter()
                    .map(|reading| {
                        let cells = ValueCells {
                            value: self.column(&reading.column),
                            multiplied: self.optional(reading.multiplied_column.as_ref()),
                            unit: self.source(&reading.unit),
                            test_line: self.optional(reading.test_line_signal.as_ref()),
                            control_line: self.optional(reading.control_line_signal.as_ref()),
                        };
                        (reading.analyte, cells)
                    })
                    .collect(),
            ),
        }
    }
}

/// The places of the map's fields in a header row.
pub(super) fn layout<'m>(
    names: &[String],
    map: &'m ColumnMap,
) -> Result<Layout<'m>, ExportRefusal> {
    let mut positions = HashMap::new();
    let mut twice = Vec::new();
    for (position, name) in names.iter().enumerate() {
        if !name.is_empty() && positions.insert(fold(name), position).is_some() {
            twice.push(name.clone());
        }
    }
    if !twice.is_empty() {
        return Err(ExportRefusal::DuplicateColumns { names: twice });
    }
    let mut finder = Finder {
        positions,
        used: BTreeSet::new(),
        missing: Vec::new(),
    };
    let layout = places(&mut finder, map);
    if !finder.missing.is_empty() {
        return Err(ExportRefusal::MissingColumns {
            missing: finder.missing,
            found: names
                .iter()
                .filter(|name| !name.is_empty())
                .cloned()
                .collect(),
        });
    }
    let extra = names
        .iter()
        .enumerate()
        .filter(|(position, name)| !name.is_empty() && !finder.used.contains(position))
        .map(|(_, name)| name.clone())
        .collect();
    Ok(Layout { extra, ..layout })
}

fn places<'m>(finder: &mut Finder, map: &'m ColumnMap) -> Layout<'m> {
    let columns = &map.columns;
    Layout {
        reader_serial: finder.source(&columns.reader_serial),
        port: finder.source(&columns.port),
        read_at: finder.time(Some(&columns.read_at)),
        started_at: finder.time(columns.started_at.as_ref()),
        sample_code: finder.optional(columns.sample_code.as_ref()),
        lot_code: finder.optional(columns.lot_code.as_ref()),
        kit_lot_code: finder.optional_source(columns.kit_lot_code.as_ref()),
        curve_lot_code: finder.optional_source(columns.curve_lot_code.as_ref()),
        matrix: finder.optional_source(columns.matrix.as_ref()),
        operator: finder.optional(columns.operator.as_ref()),
        stated_factor: finder.optional(columns.stated_factor.as_ref()),
        strip_barcode: finder.optional(columns.strip_barcode.as_ref()),
        comment: finder.optional(columns.comment.as_ref()),
        control_line: columns
            .control_line
            .as_ref()
            .map(|control| (finder.column(&control.column), control)),
        readings: finder.readings(&map.readings),
        volumes: map
            .dilution_volumes
            .iter()
            .map(|step| {
                (
                    finder.column(&step.sample_volume),
                    finder.column(&step.diluent_volume),
                )
            })
            .collect(),
        extra: Vec::new(),
        operators: map
            .operators
            .iter()
            .map(|(name, account)| (fold(name), *account))
            .collect(),
        analytes: map
            .analyte_names
            .iter()
            .map(|(name, analyte)| (fold(name), *analyte))
            .collect(),
    }
}
