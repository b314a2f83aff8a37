//! Setting pages: a typesetter that sees three files in memory and the fonts built in.
//!
//! Promises that the same template and data give the same pages: no clock, no network, no file of
//! the machine, no font of the machine.

use std::sync::LazyLock;
use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// Library and fonts, made once a process.
struct Shop {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

static SHOP: LazyLock<Shop> = LazyLock::new(|| {
    let fonts: Vec<Font> = typst_assets::fonts()
        .flat_map(|data| Font::iter(Bytes::new(data)))
        .collect();
    Shop {
        library: LazyHash::new(Library::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
    }
});

/// A document to be set.
pub(super) struct Desk {
    template: Source,
    files: Vec<(FileId, Bytes)>,
}

impl Desk {
    /// A template with the files that it reads. Names are fixed ones: ids are never freed.
    pub(super) fn new(template: &str, files: Vec<(&'static str, Vec<u8>)>) -> Option<Self> {
        let files = files
            .into_iter()
            .map(|(name, bytes)| Some((id(name)?, Bytes::new(bytes))))
            .collect::<Option<Vec<_>>>()?;
        Some(Self {
            template: Source::new(id("certificate.typ")?, template.to_owned()),
            files,
        })
    }
}

fn id(name: &'static str) -> Option<FileId> {
    let path = VirtualPath::new(name).ok()?;
    Some(RootedPath::new(VirtualRoot::Project, path).intern())
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &SHOP.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &SHOP.book
    }

    fn main(&self) -> FileId {
        self.template.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.template.id() {
            Ok(self.template.clone())
        } else {
            Err(FileError::AccessDenied)
        }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let file = self.files.iter().find(|(name, _)| *name == id);
        file.map(|(_, bytes)| bytes.clone())
            .ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        SHOP.fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}
