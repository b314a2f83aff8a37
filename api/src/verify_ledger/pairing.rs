//! Each entry of an archive with the records of its act.
//!
//! Promises that every line is looked at once: records that no entry is near, or that stand out of
//! order, are found and named. The act that a line names decides; whether it is so is for the
//! checks.

use super::{
    opened::{Lines, Refused},
    spool::{Spool, Stretch},
};
use domain::ledger::archive::{Check, EntryLine, Finding, RecordLine};
use std::{
    collections::{HashMap, VecDeque},
    fs::File,
};
use uuid::Uuid;

/// How far ahead the records of an act are looked for.
const NEAR: usize = 512;

/// The most lines and bytes of one act's records that are kept at once.
const MOST_LINES: usize = 1024;
const MOST_BYTES: usize = 256 * 1024 * 1024;

/// An entry's line and those of its records.
pub(super) struct Paired {
    /// The number of the entry's line, from 1.
    pub(super) number: u64,
    pub(super) entry: String,
    pub(super) records: Vec<String>,
    /// Where each record is kept aside, where they are.
    pub(super) kept: Vec<Stretch>,
}

impl Paired {
    pub(super) fn bytes(&self) -> usize {
        let records = self.records.iter().map(String::len);
        records.sum::<usize>().saturating_add(self.entry.len())
    }
}

type Group = (Option<Uuid>, Vec<String>);

/// The entries in their order, each with its records.
pub(super) struct Pairing {
    entries: Lines,
    records: Lines,
    /// The first line of the next group.
    begun: Option<String>,
    ended: bool,
    ahead: VecDeque<Group>,
    aside: HashMap<Uuid, Vec<String>>,
    findings: Vec<Finding>,
    spool: Option<Spool>,
}

impl Pairing {
    pub(super) fn new(entries: Lines, records: Lines, spool: Option<Spool>) -> Self {
        Self {
            entries,
            records,
            begun: None,
            ended: false,
            ahead: VecDeque::new(),
            aside: HashMap::new(),
            findings: Vec::new(),
            spool,
        }
    }

    /// What was found amiss since this was last asked, and the records that were kept aside.
    pub(super) fn finish(self) -> Result<(Vec<Finding>, Option<File>), Refused> {
        let file = self.spool.map(Spool::finish).transpose()?;
        Ok((self.findings, file))
    }

    /// The next entry; none at the end, when the records that are left were named.
    pub(super) fn next_pair(&mut self) -> Result<Option<Paired>, Refused> {
        let Some((number, entry)) = self.entries.next_line()? else {
            self.name_what_is_left()?;
            return Ok(None);
        };
        let act = EntryLine::parse(&entry).ok().and_then(|line| line.act());
        let records = self.records_of(act)?;
        let kept = match &mut self.spool {
            Some(spool) => records
                .iter()
                .map(|line| spool.keep(line))
                .collect::<Result<_, _>>()?,
            None => Vec::new(),
        };
        Ok(Some(Paired {
            number,
            entry,
            records,
            kept,
        }))
    }

    fn records_of(&mut self, act: Option<Uuid>) -> Result<Vec<String>, Refused> {
        self.read_ahead(1)?;
        if self
            .ahead
            .front()
            .is_some_and(|(of, _)| *of == act && act.is_some())
        {
            return Ok(self
                .ahead
                .pop_front()
                .map(|(_, lines)| lines)
                .unwrap_or_default());
        }
        // An entry that names no act takes the group that is due; the checks say what is wrong.
        let Some(act) = act else {
            return Ok(self
                .ahead
                .pop_front()
                .map(|(_, lines)| lines)
                .unwrap_or_default());
        };
        if let Some(lines) = self.aside.remove(&act) {
            let text = format!("the records of act {act} do not stand in the order of the entries");
            self.findings.push(Finding::new(Check::Records, text));
            return Ok(lines);
        }
        self.read_ahead(NEAR)?;
        let Some(place) = self.ahead.iter().position(|(of, _)| *of == Some(act)) else {
            return Ok(Vec::new());
        };
        for (of, lines) in self.ahead.drain(..place).collect::<Vec<_>>() {
            match of {
                Some(of) if self.aside.len() < NEAR => {
                    self.aside.insert(of, lines);
                }
                of => self.findings.push(stray(of, lines.len())),
            }
        }
        Ok(self
            .ahead
            .pop_front()
            .map(|(_, lines)| lines)
            .unwrap_or_default())
    }

    fn name_what_is_left(&mut self) -> Result<(), Refused> {
        for (of, lines) in std::mem::take(&mut self.aside) {
            self.findings.push(stray(Some(of), lines.len()));
        }
        loop {
            self.read_ahead(1)?;
            let Some((of, lines)) = self.ahead.pop_front() else {
                return Ok(());
            };
            if self.findings.len() < NEAR {
                self.findings.push(stray(of, lines.len()));
            }
        }
    }

    /// Reads groups until there are so many, or no more.
    fn read_ahead(&mut self, groups: usize) -> Result<(), Refused> {
        while self.ahead.len() < groups && !self.ended {
            let first = match self.begun.take() {
                Some(line) => line,
                None => match self.records.next_line()? {
                    Some((_, line)) => line,
                    None => {
                        self.ended = true;
                        return Ok(());
                    }
                },
            };
            let group = self.read_group(first)?;
            self.ahead.push_back(group);
        }
        Ok(())
    }

    fn read_group(&mut self, first: String) -> Result<Group, Refused> {
        let act = RecordLine::act_of(&first);
        let mut bytes = first.len();
        let mut lines = vec![first];
        loop {
            match self.records.next_line()? {
                Some((_, line)) if RecordLine::act_of(&line) == act && act.is_some() => {
                    bytes = bytes.saturating_add(line.len());
                    if lines.len() >= MOST_LINES || bytes > MOST_BYTES {
                        return Err(Refused::Other("an act of the archive is too large".into()));
                    }
                    lines.push(line);
                }
                Some((_, line)) => {
                    self.begun = Some(line);
                    return Ok((act, lines));
                }
                None => {
                    self.ended = true;
                    return Ok((act, lines));
                }
            }
        }
    }
}

fn stray(act: Option<Uuid>, lines: usize) -> Finding {
    let of = act.map_or("no act".to_owned(), |act| format!("act {act}"));
    let text = format!("{lines} records of {of} belong to no entry that is here");
    Finding::new(Check::Records, text)
}
