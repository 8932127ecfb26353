//! The file: sheets in their order, styles, names.

mod calculations;
mod front;
mod inputs;
mod lookup;

use crate::place::Place;
use crate::{About, Written};
use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Formula, Workbook, Worksheet, XlsxError,
};
use std::collections::HashMap;
use tare_calc::Resolve;
use tare_study::Study;

/// Columns that can be read when they stand on one page's width.
const MOST_COLUMNS_OF_A_PAGE: u16 = 20;
/// Sheets beside those of calculations.
const PAGES: [&str; 6] = ["Read me", "Summary", "Parts", "Items", "Inputs", "Look-up"];

pub(crate) fn workbook(study: &Study, lib: &dyn Resolve, about: &About) -> Result<Written, XlsxError> {
    let mut place = Place::new(study, lib, &PAGES);
    inputs::name_leaves(&mut place, about);
    let mut workbook = Workbook::new();
    let (year, month, day) = if about.day.0 >= 1900 { about.day } else { (2000, 1, 1) };
    let properties = DocProperties::new().set_title(&about.title).set_comment("Written by Tare: live formulas from one graph.");
    workbook.set_properties(&properties.set_creation_datetime(&ExcelDateTime::from_ymd(year, month, day)?));
    let mut out = Out { styles: Styles::new(), formulas: 0, inputs: 0, values: Vec::new() };
    for page in &PAGES[..5] {
        workbook.add_worksheet().set_name(*page)?;
    }
    for sheet in &place.sheets {
        workbook.add_worksheet().set_name(&sheet.name)?;
    }
    workbook.add_worksheet().set_name(PAGES[5])?;
    inputs::write(&place, workbook.worksheet_from_name("Inputs")?, &mut out)?;
    for at in 0..place.sheets.len() {
        let sheet = workbook.worksheet_from_name(&place.sheets[at].name)?;
        calculations::write(&place, lib, at, sheet, &mut out)?;
    }
    lookup::write(&place, workbook.worksheet_from_name("Look-up")?, &mut out)?;
    front::summary(&place, about, workbook.worksheet_from_name("Summary")?, &mut out)?;
    front::parts(&place, workbook.worksheet_from_name("Parts")?, &mut out)?;
    front::items(&place, workbook.worksheet_from_name("Items")?, &mut out)?;
    front::read_me(&place, about, workbook.worksheet_from_name("Read me")?, &mut out)?;
    for (leaf, name) in &place.names {
        let (row, column) = (crate::place::FIRST_INPUT + leaf + 1, crate::place::letters(crate::place::INPUT_SI));
        workbook.define_name(name.clone(), &format!("=Inputs!${column}${row}"))?;
    }
    front::name_headlines(about, &mut workbook)?;
    let bytes = workbook.save_to_buffer()?;
    Ok(Written { bytes, formulas: out.formulas, inputs: out.inputs, values: out.values })
}

/// What the writers share.
pub(crate) struct Out {
    pub(crate) styles: Styles,
    pub(crate) formulas: usize,
    pub(crate) inputs: usize,
    pub(crate) values: Vec<String>,
}

/// What a cell shows.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Shows {
    Number(f64),
    Condition(bool),
    Words(String),
}

impl Shows {
    /// The text by which a formula's result is stored; an error where there is no number.
    fn result(&self) -> String {
        match self {
            Self::Number(x) if x.is_finite() => format!("{x:?}"),
            Self::Number(_) => "#N/A".to_owned(),
            Self::Condition(true) => "TRUE".to_owned(),
            Self::Condition(false) => "FALSE".to_owned(),
            Self::Words(words) => words.clone(),
        }
    }
}

impl Out {
    /// A formula with the value that we have for it.
    pub(crate) fn formula(
        &mut self,
        sheet: &mut Worksheet,
        at: (u32, u16),
        text: &str,
        shows: &Shows,
        format: Style,
    ) -> Result<(), XlsxError> {
        let formula = Formula::new(text).set_result(shows.result());
        sheet.write_formula_with_format(at.0, at.1, formula, self.styles.of(format))?;
        self.formulas += 1;
        Ok(())
    }

    /// A value that is stated.
    pub(crate) fn value(&mut self, sheet: &mut Worksheet, at: (u32, u16), shows: &Shows, format: Style) -> Result<(), XlsxError> {
        let format = self.styles.of(format);
        match shows {
            Shows::Number(x) if x.is_finite() => sheet.write_number_with_format(at.0, at.1, *x, format)?,
            Shows::Number(_) => sheet.write_formula_with_format(at.0, at.1, Formula::new("NA()").set_result("#N/A"), format)?,
            Shows::Condition(holds) => sheet.write_boolean_with_format(at.0, at.1, *holds, format)?,
            Shows::Words(words) => sheet.write_string_with_format(at.0, at.1, clipped(words), format)?,
        };
        self.inputs += 1;
        Ok(())
    }

    /// Words of ours or of the study's, always as text.
    pub(crate) fn words(&mut self, sheet: &mut Worksheet, at: (u32, u16), words: &str, format: Style) -> Result<(), XlsxError> {
        sheet.write_string_with_format(at.0, at.1, clipped(words), self.styles.of(format))?;
        Ok(())
    }
}

/// A cell holds 32,767 characters.
fn clipped(words: &str) -> String {
    if words.chars().count() <= 32_000 { words.to_owned() } else { words.chars().take(32_000).chain("...".chars()).collect() }
}

/// How a cell looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Style {
    Title,
    Says,
    Head,
    HeadNumber,
    HeadUnit,
    HeadSmall,
    Word,
    /// Words behind a number.
    AfterNumber,
    /// What a row of the first page is about.
    Topic,
    Strong,
    /// A number to be changed.
    Input(Digits),
    Number(Digits),
    StrongNumber(Digits),
    /// A helper in SI units.
    Helper,
    Note,
}

/// How many digits are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Digits {
    Whole,
    One,
    Two,
    Four,
    Six,
    Power,
    /// A part of a whole.
    Share,
    General,
}

impl Digits {
    /// So that a number of this size shows four or five significant digits.
    pub(crate) fn of(value: f64) -> Self {
        match value.abs() {
            x if !x.is_finite() || x == 0.0 => Self::General,
            x if x >= 1e9 => Self::Power,
            x if x >= 1000.0 => Self::Whole,
            x if x >= 100.0 => Self::One,
            x if x >= 1.0 => Self::Two,
            x if x >= 0.01 => Self::Four,
            x if x >= 0.0001 => Self::Six,
            _ => Self::Power,
        }
    }

    fn code(self) -> &'static str {
        match self {
            Self::Whole => "#,##0",
            Self::One => "#,##0.0",
            Self::Two => "#,##0.00",
            Self::Four => "0.0000",
            Self::Six => "0.000000",
            Self::Share => "0.0%",
            Self::Power => "0.000E+00",
            Self::General => "General",
        }
    }
}

pub(crate) struct Styles {
    made: HashMap<Style, Format>,
}

impl Styles {
    fn new() -> Self {
        Self { made: HashMap::new() }
    }

    fn of(&mut self, style: Style) -> &Format {
        self.made.entry(style).or_insert_with(|| make(style))
    }
}

const INK: Color = Color::RGB(0x1B_2A_33);
const PALE: Color = Color::RGB(0xEE_F2_F4);
const FAINT: Color = Color::RGB(0x7A_86_8C);
const CHANGE: Color = Color::RGB(0xFF_F7_DB);

fn make(style: Style) -> Format {
    let base = Format::new().set_font_name("Calibri").set_font_size(10).set_font_color(INK);
    match style {
        Style::Title => base.set_font_size(15).set_bold(),
        Style::Says => base.set_font_color(FAINT),
        Style::Head => base
            .set_bold()
            .set_background_color(PALE)
            .set_text_wrap()
            .set_align(FormatAlign::Bottom)
            .set_border_bottom(FormatBorder::Thin),
        Style::HeadUnit => make(Style::Head).set_indent(1),
        Style::HeadNumber => make(Style::Head).set_align(FormatAlign::Right),
        Style::HeadSmall => {
            base.set_font_size(8).set_font_color(FAINT).set_background_color(PALE).set_text_wrap().set_align(FormatAlign::Top)
        }
        Style::Word => base,
        Style::AfterNumber => base.set_indent(1),
        Style::Topic => base.set_bold().set_text_wrap().set_align(FormatAlign::Top),
        Style::Strong => base.set_bold(),
        Style::Input(digits) => base
            .set_num_format(digits.code())
            .set_background_color(CHANGE)
            .set_border(FormatBorder::Hair)
            .set_align(FormatAlign::Right),
        Style::Number(digits) => base.set_num_format(digits.code()),
        Style::StrongNumber(digits) => base.set_num_format(digits.code()).set_bold().set_font_size(12),
        Style::Helper => base.set_font_color(FAINT).set_font_size(8),
        Style::Note => base.set_text_wrap().set_align(FormatAlign::Top),
    }
}

/// Landscape, headings on each page; one page wide unless that would be too small to read.
pub(crate) fn printed(sheet: &mut Worksheet, title: &str, head: Option<(u32, u32)>, columns: u16) -> Result<(), XlsxError> {
    sheet.set_landscape().set_paper_size(9);
    if columns <= MOST_COLUMNS_OF_A_PAGE {
        sheet.set_print_fit_to_pages(1, 0);
    } else {
        sheet.set_print_scale(60).set_repeat_columns(0, 0)?;
    }
    // in headings `&` starts a code
    let title = title.replace('&', "&&");
    let title: String = title.chars().take(150).collect();
    sheet.set_header(format!("&L{title}&R&A")).set_footer("&LTare&RPage &P of &N");
    if let Some((first, last)) = head {
        sheet.set_repeat_rows(first, last)?;
    }
    Ok(())
}
