//! The world that the typesetting library sees: one template, two typefaces, the files of one
//! document. Nothing of it is on the disk, and nothing is fetched.

use std::collections::HashMap;
use std::sync::LazyLock;

use jiff::tz::TimeZone;
use typst::diag::{FileError, FileResult, SourceDiagnostic, SourceResult};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

use super::NoPdf;
use crate::report::picture::FONTS;

/// The names of a document's files, with their bytes.
pub(super) type Files = Vec<(String, Vec<u8>)>;

/// What is to be set: a template out of `templates/`.
pub(super) struct Template {
    /// Its name.
    pub(super) name: &'static str,
    /// Its text.
    pub(super) text: &'static str,
}

/// Standards that every report keeps: accessible (ISO 14289-1) and made to last (ISO 19005-2).
const STANDARDS: [PdfStandard; 2] = [PdfStandard::Ua_1, PdfStandard::A_2a];

/// Made when the first report is wanted: a server that makes none does not pay for it.
static SHOP: LazyLock<Shop> = LazyLock::new(|| {
    let fonts: Vec<Font> = FONTS
        .iter()
        .flat_map(|font| Font::iter(Bytes::new(*font)))
        .collect();
    Shop {
        library: LazyHash::new(Library::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
    }
});

struct Shop {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

struct Workshop {
    template: Source,
    files: HashMap<FileId, Bytes>,
}

impl World for Workshop {
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
        self.files.get(&id).cloned().ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        SHOP.fonts.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

/// Sets a document with these files and writes it: under this identification, and with this time
/// in it.
pub(super) fn pdf(
    template: Template,
    files: Files,
    known_by: (&str, jiff::Timestamp),
) -> Result<Vec<u8>, NoPdf> {
    let made = set(template, files, known_by);
    // What the library remembers of a report is of no use to the next one.
    typst::comemo::evict(0);
    made
}

fn set(
    template: Template,
    files: Files,
    (ident, at): (&str, jiff::Timestamp),
) -> Result<Vec<u8>, NoPdf> {
    let named = |(name, bytes)| Ok((id(name)?, Bytes::new::<Vec<u8>>(bytes)));
    let workshop = Workshop {
        template: Source::new(id(template.name.to_owned())?, template.text.to_owned()),
        files: files.into_iter().map(named).collect::<Result<_, NoPdf>>()?,
    };
    let document: PagedDocument = told(typst::compile(&workshop).output)?;
    let standards = PdfStandards::new(&STANDARDS);
    let standards = standards.map_err(|told| NoPdf::Failed(told.message().to_string()))?;
    let options = PdfOptions {
        ident: Smart::Custom(ident.to_owned()),
        creator: Smart::Custom(Some("Fanwright".to_owned())),
        timestamp: moment(at),
        standards,
        ..PdfOptions::default()
    };
    told(typst_pdf::pdf(&document, &options))
}

/// The names of files are few and the same for every document: the library never forgets one.
fn id(name: String) -> Result<FileId, NoPdf> {
    let path = VirtualPath::new(name).map_err(|_| NoPdf::Failed("a name is no path".to_owned()))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

fn told<T>(of: SourceResult<T>) -> Result<T, NoPdf> {
    of.map_err(|diagnostics| {
        let told = |it: &SourceDiagnostic| it.message.to_string();
        let all: Vec<String> = diagnostics.iter().map(told).collect();
        NoPdf::Failed(all.join("; "))
    })
}

/// When the last entry was made: the only time in the file.
fn moment(at: jiff::Timestamp) -> Option<Timestamp> {
    let at = TimeZone::UTC.to_datetime(at);
    let part = |value: i8| u8::try_from(value).ok();
    let at = Datetime::from_ymd_hms(
        i32::from(at.year()),
        part(at.month())?,
        part(at.day())?,
        part(at.hour())?,
        part(at.minute())?,
        part(at.second())?,
    );
    at.map(Timestamp::new_utc)
}
