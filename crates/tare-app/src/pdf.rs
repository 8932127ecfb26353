//! What a PDF that a browser printed says of itself: how many pages it has, and on which of them places of the page of HTML stand.
//!
//! Such a file holds its tree of pages and its named places as plain objects; only what is drawn is packed. Whatever does not read that way
//! gives no answer, and whoever asks does without.

use std::collections::BTreeMap;

/// How many pages there are; 0 where the file does not read.
pub fn pages(pdf: &[u8]) -> usize {
    order(pdf).len()
}

/// On which page, counted from 1, each place stands: those that some link of the page leads to, by their element id.
pub fn places(pdf: &[u8]) -> BTreeMap<String, usize> {
    let order = order(pdf);
    let found = (|| {
        let object = object(pdf, number_after(pdf, b"/Dests ")?)?;
        let inside = String::from_utf8_lossy(object).into_owned();
        // `/id [12 0 R /XYZ 0 841 0]`, one after the other
        let read = |entry: &str| {
            let (id, behind) = entry.split_once(" [")?;
            let page: usize = behind.split(' ').next()?.parse().ok()?;
            let at = order.iter().position(|number| *number == page)?;
            let id = id.rsplit('/').next()?.trim();
            Some((id.to_owned(), at + 1))
        };
        Some(inside.split(']').filter_map(read).collect())
    })();
    found.unwrap_or_default()
}

/// Numbers of the objects that are pages, in their order.
fn order(pdf: &[u8]) -> Vec<usize> {
    let mut found = Vec::new();
    if let Some(root) = number_after(pdf, b"/Type /Catalog\n/Pages ") {
        walk(&kids(pdf), root, 0, &mut found);
    }
    found
}

/// The tree is a few levels deep; one that leads back to itself ends here.
const DEEPEST: usize = 12;

fn walk(kids: &BTreeMap<usize, Vec<usize>>, number: usize, depth: usize, found: &mut Vec<usize>) {
    match kids.get(&number) {
        Some(below) if depth < DEEPEST => below.iter().for_each(|kid| walk(kids, *kid, depth + 1, found)),
        Some(_) => {}
        None => found.push(number),
    }
}

/// For each node of the tree of pages what hangs on it.
fn kids(pdf: &[u8]) -> BTreeMap<usize, Vec<usize>> {
    let mut found = BTreeMap::new();
    let mut from = 0;
    while let Some(at) = find(pdf, b" 0 obj\n<</Type /Pages", from) {
        from = at + 1;
        let digits = pdf[..at].iter().rev().take_while(|b| b.is_ascii_digit()).count();
        let number = text(&pdf[at - digits..at]).parse().ok();
        let below = find(pdf, b"/Kids [", at).and_then(|open| {
            let open = open + b"/Kids [".len();
            Some(text(&pdf[open..find(pdf, b"]", open)?]))
        });
        if let (Some(number), Some(below)) = (number, below) {
            let words: Vec<&str> = below.split_whitespace().collect();
            found.insert(number, words.chunks(3).filter_map(|reference| reference.first()?.parse().ok()).collect());
        }
    }
    found
}

/// What stands in the object with a number.
fn object(pdf: &[u8], number: usize) -> Option<&[u8]> {
    let begins = format!("\n{number} 0 obj\n");
    let at = find(pdf, begins.as_bytes(), 0)? + begins.len();
    Some(&pdf[at..find(pdf, b"\nendobj", at)?])
}

fn number_after(pdf: &[u8], words: &[u8]) -> Option<usize> {
    let at = find(pdf, words, 0)? + words.len();
    let digits = pdf[at..].iter().take_while(|b| b.is_ascii_digit()).count();
    text(&pdf[at..at + digits]).parse().ok()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn find(pdf: &[u8], words: &[u8], from: usize) -> Option<usize> {
    let first = words.first()?;
    let mut at = from;
    loop {
        at += pdf.get(at..)?.iter().position(|b| b == first)?;
        if pdf[at..].starts_with(words) {
            return Some(at);
        }
        at += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &[u8] = b"%PDF-1.4\n1 0 obj\n<</Type /Page\n/Parent 5 0 R>>\nendobj\n3 0 obj\n<</Type /Page>>\nendobj\n\
        9 0 obj\n<</Type /Page>>\nendobj\n4 0 obj\n<</Type /Pages\n/Count 2\n/Kids [3 0 R 9 0 R]\n/Parent 5 0 R>>\nendobj\n\
        5 0 obj\n<</Type /Pages\n/Count 3\n/Kids [1 0 R 4 0 R]>>\nendobj\n\
        6 0 obj\n<</top [1 0 R /XYZ 0 841.9 0]\n/cost-items [9 0 R /XYZ 0 418 0]\n/gone [77 0 R /XYZ 0 0 0]>>\nendobj\n\
        7 0 obj\n<</Type /Catalog\n/Pages 5 0 R\n/Dests 6 0 R>>\nendobj\n";

    #[test]
    fn pages_are_counted_in_their_order_and_places_found_on_them() {
        assert_eq!(pages(SMALL), 3);
        let found: Vec<_> = places(SMALL).into_iter().collect();
        assert_eq!(found, [("cost-items".to_owned(), 3), ("top".to_owned(), 1)]);
    }

    #[test]
    fn what_does_not_read_gives_no_answer() {
        for bad in [
            &b""[..],
            b"%PDF",
            b"/Type /Catalog\n/Pages ",
            b"/Type /Catalog\n/Pages x",
            &SMALL[..SMALL.len() / 2],
            b"/Dests 6 0 R",
        ] {
            assert_eq!((pages(bad), places(bad).len()), (0, 0), "{}", text(bad));
        }
        let round = b"5 0 obj\n<</Type /Pages\n/Kids [5 0 R]>>\nendobj\n7 0 obj\n<</Type /Catalog\n/Pages 5 0 R>>";
        assert_eq!(pages(round), 0, "a tree that leads back to itself");
    }
}
