//! Tables of our own form: UTF-8, cut by commas, a line of titles (RFC 4180), read without guessing.
//!
//! A foreign list is read as well as it can be; a table that is to come back whole is refused where it is damaged. The `csv` crate takes a
//! quotation mark inside a field, one that is never closed, and text behind a closed one as they come, so it cannot tell damage from content.

use crate::limits::MESSAGES;
use tare_diag::{Diag, Place};

/// The most cells of a table.
const CELLS: usize = 20_000_000;

/// The most columns of a table.
const COLUMNS: usize = 1_000;

/// A table as its text has it; the content of cells is what [`crate::kept_text`] reads.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StrictTable {
    /// The titles.
    pub titles: Vec<String>,
    /// The rows that hold anything, each as wide as the titles.
    pub rows: Vec<StrictRow>,
}

/// A row of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StrictRow {
    /// Its place in the table, the line of titles being row 0.
    pub row: usize,
    /// The content of its cells.
    pub cells: Vec<String>,
}

/// Reads a table.
///
/// # Errors
/// Every damage at its place: no UTF-8, no titles, cut by something else than commas, a broken quotation, rows of another width.
pub fn read_strict(file: &str, bytes: &[u8]) -> Result<StrictTable, Vec<Diag>> {
    let text = text(file, bytes)?;
    let mut scanner = Scanner { file, text, at: 0, problems: Vec::new() };
    let mut table = StrictTable::default();
    let (mut row, mut cells, mut short) = (0usize, 0usize, 0usize);
    while scanner.at < text.len() {
        let fields = scanner.row(row);
        cells += fields.len();
        if cells > CELLS {
            let says = format!("the table holds more than {CELLS} cells");
            return Err(vec![Diag::error("table-large", says).at(Place::File(file.to_owned()))]);
        }
        let holds = fields.iter().any(|field| !field.is_empty());
        if table.titles.is_empty() && holds {
            if fields.len() > COLUMNS {
                let says = format!("the table has {} columns, expected at most {COLUMNS}", fields.len());
                return Err(vec![Diag::error("table-large", says).at(Place::cell(file, None, row, COLUMNS))]);
            }
            table.titles = fields;
            scanner.problems.extend(separator(file, row, &table.titles));
        } else if holds {
            let (found, wanted) = (fields.len(), table.titles.len());
            // titles that end in empty cells, and rows that do, say nothing there
            let surplus = fields.iter().skip(wanted).all(String::is_empty);
            if found < wanted || !surplus {
                short += 1;
                if short <= MESSAGES {
                    let says = format!("row {} holds {found} cells, expected {wanted} as in the line of titles", row + 1);
                    let diag =
                        Diag::error("table-width", says).at(Place::cell(file, None, row, found.min(wanted).saturating_sub(1)));
                    scanner.problems.push(diag.hint(if found < wanted {
                        "the line is cut, or commas are missing at its end"
                    } else {
                        "put a text that holds a comma in quotation marks"
                    }));
                }
            }
            table.rows.push(StrictRow { row, cells: fields });
        }
        row += 1;
    }
    if short > MESSAGES {
        let says = format!("{} more rows hold another number of cells than the line of titles", short - MESSAGES);
        scanner.problems.push(Diag::error("table-width", says).at(Place::File(file.to_owned())));
    }
    if table.titles.is_empty() {
        let diag = Diag::error("table-empty", "the table has no line of titles").at(Place::File(file.to_owned()));
        scanner.problems.push(diag.hint("the first row names the columns; delete the file where there is nothing to say"));
    }
    if scanner.problems.is_empty() { Ok(table) } else { Err(scanner.problems) }
}

/// The bytes as text without the mark some programs put before it.
fn text<'a>(file: &str, bytes: &'a [u8]) -> Result<&'a str, Vec<Diag>> {
    let line = |at: usize| Place::Line { file: file.to_owned(), line: bytes[..at].iter().filter(|b| **b == b'\n').count() + 1 };
    let text = std::str::from_utf8(bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes)).map_err(|e| {
        let at = e.valid_up_to() + (bytes.len() - bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes).len());
        let says = format!("the table is no text in UTF-8 (byte {:#04x} breaks it)", bytes.get(at).copied().unwrap_or_default());
        vec![Diag::error("table-encoding", says).at(line(at)).hint("save it as CSV in UTF-8 (Unicode)")]
    })?;
    match text.find('\0') {
        Some(at) => {
            let diag = Diag::error("table-binary", "the table holds a null character, so it is no text").at(line(at));
            Err(vec![diag.hint("fetch the file again, or save it as CSV in UTF-8")])
        }
        None => Ok(text),
    }
}

fn separator(file: &str, row: usize, titles: &[String]) -> Option<Diag> {
    let [only] = titles else { return None };
    let cut = [(';', "semicolons"), ('\t', "tabs"), ('|', "bars")].into_iter().find(|(mark, _)| only.contains(*mark))?;
    let says = format!("the table is cut by {}, expected commas", cut.1);
    let diag = Diag::error("table-separator", says).at(Place::cell(file, None, row, 0));
    Some(diag.hint("save it as CSV with commas, text as it is shown, in UTF-8"))
}

struct Scanner<'a> {
    file: &'a str,
    text: &'a str,
    at: usize,
    problems: Vec<Diag>,
}

impl Scanner<'_> {
    /// The fields of the next row.
    fn row(&mut self, row: usize) -> Vec<String> {
        let mut fields = Vec::new();
        loop {
            let field = self.field(row, fields.len());
            fields.push(field);
            match self.text.as_bytes().get(self.at) {
                Some(b',') => self.at += 1,
                Some(b'\r') => {
                    self.at += if self.text[self.at + 1..].starts_with('\n') { 2 } else { 1 };
                    return fields;
                }
                Some(_) => {
                    self.at += 1;
                    return fields;
                }
                None => return fields,
            }
        }
    }

    fn problem(&mut self, code: &'static str, row: usize, column: usize, says: &str, hint: &str) {
        if self.problems.len() < MESSAGES * 4 {
            self.problems.push(Diag::error(code, says).at(Place::cell(self.file, None, row, column)).hint(hint));
        }
    }

    /// The next field; stands before the mark that ends it afterwards.
    fn field(&mut self, row: usize, column: usize) -> String {
        let rest = &self.text[self.at..];
        if !rest.starts_with('"') {
            let field = &rest[..rest.find([',', '\n', '\r']).unwrap_or(rest.len())];
            self.at += field.len();
            if field.contains('"') {
                let hint = "put the whole text in quotation marks and double those inside it";
                self.problem(
                    "table-quote",
                    row,
                    column,
                    "a quotation mark stands inside a text that is not in quotation marks",
                    hint,
                );
            }
            return field.to_owned();
        }
        let (mut field, mut at) = (String::new(), 1);
        loop {
            let Some(end) = rest[at..].find('"') else {
                let hint = "the file is cut, or a closing quotation mark is missing";
                self.problem("table-open", row, column, "a quotation mark is opened here and never closed", hint);
                self.at = self.text.len();
                return field;
            };
            field.push_str(&rest[at..at + end]);
            at += end + 1;
            if !rest[at..].starts_with('"') {
                break;
            }
            field.push('"');
            at += 1;
        }
        let after = &rest[at..];
        let stray = &after[..after.find([',', '\n', '\r']).unwrap_or(after.len())];
        if !stray.is_empty() {
            let hint = "double the quotation marks inside a text";
            self.problem("table-quote", row, column, "text follows the quotation mark that closes a text", hint);
        }
        self.at += at + stray.len();
        // an editor or a version control that ends lines with two letters does so inside texts too; a carriage return of ours is never bare
        if field.contains('\r') { field.replace("\r\n", "\n") } else { field }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> Vec<String> {
        read_strict("t.csv", text.as_bytes()).expect_err("damaged").iter().map(ToString::to_string).collect()
    }

    #[test]
    fn what_is_whole_is_read_as_it_is() {
        let table = read_strict("t.csv", "\u{feff}a,b\r\n1,\"x, \"\"y\"\"\r\nz\"\r\n,\r\n\r\n2,\r\n".as_bytes()).expect("reads");
        assert_eq!(table.titles, ["a", "b"]);
        let rows: Vec<(usize, Vec<String>)> = table.rows.into_iter().map(|r| (r.row, r.cells)).collect();
        assert_eq!(rows, [(1, vec!["1".to_owned(), "x, \"y\"\nz".to_owned()]), (4, vec!["2".to_owned(), String::new()])]);
        assert_eq!(read_strict("t.csv", b"a\n").expect("no rows").rows, []);
    }

    #[test]
    fn damage_is_told_at_its_cell() {
        assert!(told("a,b\n1,x\"y\n")[0].contains("table-quote") && told("a,b\n1,x\"y\n")[0].contains("cell B2"));
        assert!(told("a,b\n\"1\"2,x\n")[0].contains("cell A2"));
        assert!(told("a,b\n1,\"x\n2,y\n")[0].contains("never closed"));
        assert!(told("a,b\n1\n")[0].contains("row 2 holds 1 cells"));
        assert!(told("a,b\n1,2,3\n")[0].contains("row 2 holds 3 cells"));
        assert!(told("a;b\n1;2\n")[0].contains("semicolons"));
        assert!(told("")[0].contains("no line of titles"));
        assert!(told("a\n\0\n")[0].contains("line 2"));
        let latin = read_strict("t.csv", b"a,b\n1,M\xfcller\n").expect_err("no UTF-8");
        assert!(latin[0].to_string().contains("0xfc") && latin[0].to_string().contains("line 2"), "{}", latin[0]);
        assert_eq!(told("a,b\n1\n2\n3,4,5\n").len(), 3, "all at once");
        assert!(told(&"a,".repeat(1_001))[0].contains("1002 columns"));
    }
}
