//! From characters to records: delimiter-separated text by RFC 4180.
//!
//! Promises fields exactly as written, spaces included, with their quotes undone; lines end in
//! CR LF, LF or CR; an empty line is no record. Refuses, record by record, quotes that stand
//! where RFC 4180 (section 2, rules 5 to 7) does not allow them, and goes on with the next line.

use std::borrow::Cow;

/// One record and where it stood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record<'a> {
    /// The physical line on which it begins, from 1.
    pub line: u64,
    /// Its text, without its line break.
    pub raw: &'a str,
    /// Its fields, or what is wrong with its quotes.
    pub fields: Result<Vec<Cow<'a, str>>, RecordFault>,
    /// Whether a line break ended it.
    pub ended: bool,
}

/// What is wrong with a record's quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RecordFault {
    /// A quote inside a field that does not begin with one.
    #[error("a quote stands inside a field that is not quoted; quote the field, and double it")]
    StrayQuote,
    /// Text between a closing quote and the next delimiter.
    #[error("text follows a closing quote; double the quotes that belong to the field")]
    TextAfterQuote,
    /// A quote that is never closed.
    #[error("a quote is opened and never closed")]
    OpenQuote,
}

/// The records of a text, one after another.
#[derive(Debug, Clone)]
pub struct Records<'a> {
    text: &'a str,
    delimiter: u8,
    position: usize,
    line: u64,
}

/// Splits a text into records. `delimiter` is an ASCII character other than a quote or a line
/// break.
///
/// ```
/// use domain::imports::{records, RecordFault};
/// let mut all = records("a,\"b\r\n\"\"c\"\"\"\r\nd\"e,f\r\n", b',');
/// let record = all.next().unwrap();
/// assert_eq!(record.fields.unwrap(), ["a", "b\r\n\"c\""]);
/// let record = all.next().unwrap();
/// assert_eq!((record.line, record.fields), (3, Err(RecordFault::StrayQuote)));
/// assert!(all.next().is_none());
/// ```
#[must_use]
pub const fn records(text: &str, delimiter: u8) -> Records<'_> {
    Records {
        text,
        delimiter,
        position: 0,
        line: 1,
    }
}

/// Where a field ends, and what comes there.
enum End {
    Field,
    Record,
    Fault(RecordFault),
}

impl<'a> Records<'a> {
    fn byte(&self) -> Option<u8> {
        self.text.as_bytes().get(self.position).copied()
    }

    fn slice(&self, from: usize, to: usize) -> &'a str {
        self.text.get(from..to).unwrap_or_default()
    }

    /// The same place in the same text, read with another delimiter.
    pub(super) const fn with_delimiter(&self, delimiter: u8) -> Self {
        Self {
            text: self.text,
            delimiter,
            position: self.position,
            line: self.line,
        }
    }

    /// Steps over one line break, where one stands here.
    fn line_break(&mut self) -> bool {
        match self.byte() {
            Some(b'\n') => self.position += 1,
            Some(b'\r') => {
                self.position += 1;
                if self.byte() == Some(b'\n') {
                    self.position += 1;
                }
            }
            Some(_) | None => return false,
        }
        self.line += 1;
        true
    }

    /// Steps over one whole physical line.
    pub(super) fn skip_line(&mut self) {
        self.seek_line_end();
        self.line_break();
    }

    fn seek_line_end(&mut self) {
        while self.byte().is_some_and(|b| b != b'\n' && b != b'\r') {
            self.position += 1;
        }
    }

    fn bare(&mut self) -> (Cow<'a, str>, End) {
        let from = self.position;
        loop {
            match self.byte() {
                Some(b'"') => return (Cow::Borrowed(""), End::Fault(RecordFault::StrayQuote)),
                Some(b'\n' | b'\r') | None => {
                    return (Cow::Borrowed(self.slice(from, self.position)), End::Record);
                }
                Some(b) if b == self.delimiter => {
                    let field = self.slice(from, self.position);
                    self.position += 1;
                    return (Cow::Borrowed(field), End::Field);
                }
                Some(_) => self.position += 1,
            }
        }
    }

    fn quoted(&mut self) -> (Cow<'a, str>, End) {
        self.position += 1;
        let from = self.position;
        let mut doubled = false;
        loop {
            match self.byte() {
                None => return (Cow::Borrowed(""), End::Fault(RecordFault::OpenQuote)),
                Some(b'"') => {
                    self.position += 1;
                    if self.byte() != Some(b'"') {
                        break;
                    }
                    doubled = true;
                    self.position += 1;
                }
                Some(b'\n' | b'\r') => {
                    self.line_break();
                }
                Some(_) => self.position += 1,
            }
        }
        let inner = self.slice(from, self.position - 1);
        let field = if doubled {
            Cow::Owned(inner.replace("\"\"", "\""))
        } else {
            Cow::Borrowed(inner)
        };
        match self.byte() {
            None | Some(b'\n' | b'\r') => (field, End::Record),
            Some(b) if b == self.delimiter => {
                self.position += 1;
                (field, End::Field)
            }
            Some(_) => (field, End::Fault(RecordFault::TextAfterQuote)),
        }
    }
}

impl<'a> Iterator for Records<'a> {
    type Item = Record<'a>;

    fn next(&mut self) -> Option<Record<'a>> {
        while self.line_break() {}
        self.byte()?;
        let (from, line) = (self.position, self.line);
        let mut fields = Vec::with_capacity(16);
        let fields = loop {
            let (field, end) = if self.byte() == Some(b'"') {
                self.quoted()
            } else {
                self.bare()
            };
            match end {
                End::Field => fields.push(field),
                End::Record => {
                    fields.push(field);
                    break Ok(fields);
                }
                End::Fault(fault) => {
                    self.seek_line_end();
                    break Err(fault);
                }
            }
        };
        let raw = self.slice(from, self.position);
        let ended = self.line_break();
        Some(Record {
            line,
            raw,
            fields,
            ended,
        })
    }
}
