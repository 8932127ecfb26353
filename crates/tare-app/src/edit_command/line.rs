//! An edit as one line of text, in the words of `tare edit`: `set P12/mass "7.5 kg" --evidence measured`.

use super::{About, EditCommand};
use tare_diag::{Diag, Place};

/// The commands a line may begin with.
const VERBS: [&str; 6] = ["set", "clear", "add", "remove", "choose", "move"];

/// Reads one line. Words stand apart by blanks; quotes hold a word with blanks together, and `\` takes the next letter as it is.
///
/// # Errors
/// One message: an open quote, an unknown command or option, too few or too many words.
pub fn parse_line(line: &str) -> Result<EditCommand, Diag> {
    let words = words(line).map_err(|says| wrong(line, says))?;
    let Some((verb, rest)) = words.split_first() else { return Err(wrong(line, "an edit begins with a command".to_owned())) };
    let mut taken = Taken::read(line, rest)?;
    let command = match verb.as_str() {
        "set" => {
            let (target, to) = match taken.plain.as_slice() {
                [target, to] => (target.clone(), to.clone()),
                [target, field, to] => (format!("{target}/{field}"), to.clone()),
                _ => return Err(wrong(line, "`set` takes a target and its new content".to_owned())),
            };
            EditCommand::Set {
                target,
                to: to.trim().to_owned(),
                about: Box::new(std::mem::take(&mut taken.about)),
                beside: taken.beside,
            }
        }
        "clear" => match taken.plain.as_slice() {
            [target] => EditCommand::Clear { target: target.clone() },
            [target, field] => EditCommand::Clear { target: format!("{target}/{field}") },
            _ => return Err(wrong(line, "`clear` takes a target".to_owned())),
        },
        "add" => match taken.plain.split_first() {
            Some((kind, fields)) => EditCommand::Add {
                kind: kind.clone(),
                under: taken.under.take(),
                fields: fields.to_vec(),
                about: Box::new(std::mem::take(&mut taken.about)),
                id: None,
            },
            None => return Err(wrong(line, "`add` takes a kind of record".to_owned())),
        },
        "remove" => match taken.plain.as_slice() {
            [target] => EditCommand::Remove { target: target.clone() },
            _ => return Err(wrong(line, "`remove` takes a target".to_owned())),
        },
        "choose" => match taken.plain.as_slice() {
            [target, which] => EditCommand::Choose { target: target.clone(), which: which.clone(), says: taken.says.take() },
            _ => return Err(wrong(line, "`choose` takes a target and which of its values".to_owned())),
        },
        "move" => match taken.plain.as_slice() {
            [target] => EditCommand::Move { target: target.clone(), under: taken.under.take(), after: taken.after.take() },
            _ => return Err(wrong(line, "`move` takes a target".to_owned())),
        },
        other => {
            let diag = wrong(line, format!("`{other}` is no edit, expected {}", VERBS.join(", ")));
            return Err(diag.did_you_mean(other, VERBS));
        }
    };
    Ok(command)
}

fn wrong(line: &str, says: String) -> Diag {
    Diag::error("edit-line", says).at(Place::address(line.trim()))
}

/// Words of a line behind its command.
#[derive(Default)]
struct Taken {
    plain: Vec<String>,
    about: About,
    under: Option<String>,
    after: Option<String>,
    says: Option<String>,
    beside: bool,
}

impl Taken {
    fn read(line: &str, words: &[String]) -> Result<Self, Diag> {
        let mut taken = Self::default();
        let mut words = words.iter();
        while let Some(word) = words.next() {
            let Some(option) = word.strip_prefix("--") else {
                taken.plain.push(word.clone());
                continue;
            };
            if option == "beside" {
                taken.beside = true;
                continue;
            }
            let Some(text) = words.next() else { return Err(wrong(line, format!("`--{option}` has nothing behind it"))) };
            let text = text.clone();
            let about = &mut taken.about;
            let place = match option {
                "evidence" => &mut about.evidence,
                "source" => &mut about.source,
                "instrument" => &mut about.instrument,
                "state" => &mut about.state,
                "who" => &mut about.who,
                "when" => &mut about.when,
                "set" => &mut about.set,
                "period" => &mut about.period,
                "method" => &mut about.method,
                "specimen" => &mut about.specimen,
                "under" => &mut taken.under,
                "after" => &mut taken.after,
                "says" => &mut taken.says,
                "number" => {
                    about.number =
                        Some(text.parse().map_err(|_| wrong(line, format!("`--number` is a number, found `{text}`")))?);
                    continue;
                }
                other => return Err(wrong(line, format!("an edit has no option `--{other}`"))),
            };
            *place = Some(text);
        }
        Ok(taken)
    }
}

fn words(line: &str) -> Result<Vec<String>, String> {
    let mut found = Vec::new();
    let (mut word, mut begun, mut quote) = (String::new(), false, None);
    let mut letters = line.trim().chars();
    while let Some(letter) = letters.next() {
        match (letter, quote) {
            ('\\', _) => match letters.next() {
                Some(next) => {
                    word.push(next);
                    begun = true;
                }
                None => return Err("a line does not end with `\\`".to_owned()),
            },
            (mark @ ('"' | '\''), None) => {
                quote = Some(mark);
                begun = true;
            }
            (mark, Some(open)) if mark == open => quote = None,
            (blank, None) if blank.is_whitespace() => {
                if std::mem::take(&mut begun) {
                    found.push(std::mem::take(&mut word));
                }
            }
            (letter, _) => {
                word.push(letter);
                begun = true;
            }
        }
    }
    if let Some(open) = quote {
        return Err(format!("a quote {open} is not closed"));
    }
    if begun {
        found.push(word);
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_read_as_the_command_line_would_take_them() {
        let Ok(EditCommand::Set { target, to, about, beside }) =
            parse_line(r#"set "item P12" name  "Lid \"left\"" --evidence assumed --source 'by hand' --beside"#)
        else {
            panic!("not a set")
        };
        assert_eq!((target.as_str(), to.as_str(), beside), ("item P12/name", "Lid \"left\"", true));
        assert_eq!((about.evidence.as_deref(), about.source.as_deref()), (Some("assumed"), Some("by hand")));
        assert!(
            matches!(parse_line("add part --under P1 name=Lid count=2"), Ok(EditCommand::Add { fields, .. }) if fields.len() == 2)
        );
        assert!(matches!(parse_line("set P1/says \"\""), Ok(EditCommand::Set { to, .. }) if to.is_empty()));
    }

    #[test]
    fn what_does_not_read_says_why() {
        for (line, says) in [
            ("", "begins with a command"),
            ("sett P1/mass 2", "no edit"),
            ("set P1/mass", "its new content"),
            ("set P1/mass \"2 kg", "not closed"),
            ("set P1/mass 2 --colour red", "no option"),
            ("remove", "takes a target"),
        ] {
            let diag = parse_line(line).unwrap_err();
            assert!(diag.message.contains(says), "{line}: {}", diag.message);
        }
    }
}
