//! What column titles mean, in the languages lists come in.

use crate::mapping::Meaning;
use crate::price;
use crate::proposal::{Per, Tax};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A title understood.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Title {
    pub(crate) meaning: Meaning,
    /// Whether the whole title is a known one.
    pub(crate) exact: bool,
    pub(crate) unit: Option<String>,
    pub(crate) currency: Option<String>,
    pub(crate) per: Per,
    pub(crate) tax: Tax,
}

use Meaning as M;

const EXACT: &[(Meaning, &str)] = &[
    (
        M::Quantity,
        "qty|quantity|quantities|menge|anzahl|stückzahl|stk|stck|quantité|quantite|qté|qte|nombre|cantidad|cant|quantità|quantita|qta|q ta|ilość|ilosc|szt|aantal|hoeveelheid|quantidade|qtd|množství|pocet|počet|antal|määrä|mennyiség|количество|кол во|数量|個数|quant|qnty|qnt|pcs|pieces|count|amount|no off|nr off|no of pieces|number of pieces|number required|qty needed|qty required|needed|required|need|req in assy|number|qty per unit|units",
    ),
    (
        M::QuantityBought,
        "qty bought|quantity bought|qty ordered|ordered|order qty|order quantity|qty to buy|quantity to buy|to order|bestellmenge|bought|purchased|qty purchased|commandé|purchase qty|packs to order|buy qty",
    ),
    (
        M::Multiplier,
        "multiplier|no of assemblies|number of assemblies|assemblies|units needed|sets needed|copies|times used|faktor|multiplikator|qty of assemblies|assy qty",
    ),
    (
        M::QuantityTotal,
        "total qty|total quantity|qty total|quantity total|gesamtmenge|gesamtanzahl|quantité totale|extended qty|ext qty",
    ),
    (
        M::PartNumber,
        "part number|part no|part nr|partnumber|part num|pn|p n|p/n|article number|article no|artikelnummer|artikelnr|artikel nr|artnr|art nr|teilenummer|teilenr|teile nr|sachnummer|mat nr|materialnummer|référence|reference number|ref no|référence article|numéro de pièce|número de pieza|codice|codice articolo|codigo|código|numer części|nr części|номер детали|артикул|sku|mpn|mfr part number|manufacturer part number|mfg part number|mfr pn|mfg pn|mfr part|manufacturer pn|item code|item number|品番|部品番号|partno|drawing number|drawing no|zeichnungsnummer|order code",
    ),
    (
        M::Position,
        "pos|position|no|nr|n°|nº|№|#|index|id|line|pos nr|item no|item nr|lfd nr|lp|row|wbs|find no|find number|numbering|s no|sr no|sl no|repère|rep",
    ),
    (
        M::Level,
        "level|lvl|bom level|ebene|stufe|niveau|livello|nivel|poziom|depth|indent level|indenture|structure level|уровень",
    ),
    (
        M::Name,
        "name|part name|part|item|component|components|item name|title|bezeichnung|benennung|teil|bauteil|name des teils|désignation|designation|nom|pièce|nombre de pieza|denominación|denominazione|nome|pezzo|nazwa|część|element|onderdeel|benaming|naam|název|díl|benämning|namn|nimi|megnevezés|наименование|название|деталь|名称|品名|部品名|parts|article|artikel|what|product|material description|produkt|part description",
    ),
    (
        M::Description,
        "description|desc|descr|beschreibung|text|details|detail|specification|specifications|spec|specs|type|typ|art|opis|descripción|descrizione|descrição|omschrijving|popis|beskrivning|описание|説明|仕様|dimensions|dimension|size|abmessungen|maße|kind|model|variant",
    ),
    (
        M::Group,
        "group|gruppe|baugruppe|assembly|subassembly|sub assembly|assy|subsystem|system|section|module|category|ensemble|sous ensemble|gruppo|assieme|grupa|zespół|conjunto|bereich|kategorie|функция|узел",
    ),
    (M::Path, "path|pfad|location path|tree|hierarchy|full path|chemin"),
    (
        M::Unit,
        "unit|units of measure|uom|u m|einheit|mengeneinheit|me|unité|unidad|unità|jm|eenheid|jednotka|ед|ед изм|単位|unit of measure|enhet",
    ),
    (
        M::Material,
        "material|materials|werkstoff|matériau|matière|matériel|materiale|materiał|materiaal|materiál|материал|材料|材質|raw material|mat",
    ),
    (
        M::Mass,
        "mass|weight|masse|gewicht|poids|peso|massa|masa|waga|hmotnost|vikt|масса|вес|質量|重量|unit mass|unit weight|mass each|weight each|einzelgewicht|stückgewicht|mass per piece|weight per piece|mass per part|poids unitaire",
    ),
    (
        M::MassLine,
        "total mass|total weight|gesamtgewicht|gesamtmasse|mass total|weight total|line mass|poids total|sum mass|subtotal mass",
    ),
    (
        M::Price,
        "price|cost|preis|kosten|prix|coût|precio|costo|coste|prezzo|cena|koszt|prijs|preço|custo|pris|цена|стоимость|価格|unit price|unit cost|price each|cost each|price per unit|price per piece|cost per unit|stückpreis|einzelpreis|preis pro stück|prix unitaire|p u|pu|precio unitario|prezzo unitario|cena jednostkowa|цена за шт|単価|each|price ea|cost ea|unitprice|preis stk|price pc|pack price|price per pack",
    ),
    (
        M::PriceLine,
        "total price|total cost|line price|line total|ext price|extended price|ext cost|extended cost|gesamtpreis|summe|prix total|precio total|prezzo totale|wartość|totaal|итого|сумма|金額|subtotal|total|price total|cost total|gesamtkosten|gesamt|amount eur|montant",
    ),
    (
        M::PackSize,
        "pack size|pack qty|package quantity|pack|packung|verpackungseinheit|ve|per pack|pieces per pack|qty per pack|moq|pcs per pack|lot size",
    ),
    (M::Currency, "currency|währung|devise|moneda|valuta|waluta|ccy|curr|валюта"),
    (M::Date, "date|datum|price date|stand|fecha|data|as of|date of price|quote date|дата|valid from"),
    (
        M::MakeOrBuy,
        "make buy|make or buy|make/buy|mb|m b|source type|procurement|beschaffung|eigenfertigung|kaufteil|bought made|made or bought|purchased manufactured",
    ),
    (
        M::Supplier,
        "supplier|vendor|source|lieferant|bezugsquelle|fournisseur|proveedor|fornitore|dostawca|leverancier|shop|store|manufacturer|hersteller|mfr|mfg|mf|fabricant|fabricante|distributor|seller|поставщик|producent|where to buy|händler|brand",
    ),
    (
        M::Note,
        "note|notes|comment|comments|remark|remarks|bemerkung|bemerkungen|anmerkung|kommentar|hinweis|remarque|remarques|commentaire|notas|observaciones|uwagi|opmerking|poznámka|примечание|備考|info|notiz|use|usage|purpose",
    ),
    (
        M::Link,
        "link|url|links|www|web|website|web link|hyperlink|lien|enlace|example item|ссылка|リンク|datasheet|order link|buy link|webseite|product link",
    ),
    (
        M::Designator,
        "designator|designators|reference designator|ref des|refdes|reference|references|ref|refs|bauteilnummer|designators list|location|kennzeichnung|references list|repères",
    ),
    (M::Value, "value|wert|val|valeur|valor|valore|wartość elementu|номинал"),
    (M::Device, "device|symbol|libref|lib ref"),
    (M::Package, "package|footprint|gehäuse|case|pattern|boîtier|obudowa|корпус|jedec"),
    (
        M::Fitted,
        "dnp|dnf|dni|fitted|populate|populated|mounted|bestückt|bestückung|not fitted|do not populate|assemble|nofit|stuffing",
    ),
    (M::Option, "optional|option|alternative|alternatives|spare|alt|alternate|ersatz|oder"),
];

const WORDS: &[(&str, Meaning)] = &[
    ("qty", M::Quantity),
    ("quantity", M::Quantity),
    ("menge", M::Quantity),
    ("anzahl", M::Quantity),
    ("stückzahl", M::Quantity),
    ("pieces", M::Quantity),
    ("req", M::Quantity),
    ("weight", M::Mass),
    ("mass", M::Mass),
    ("gewicht", M::Mass),
    ("masse", M::Mass),
    ("price", M::Price),
    ("cost", M::Price),
    ("preis", M::Price),
    ("prix", M::Price),
    ("supplier", M::Supplier),
    ("vendor", M::Supplier),
    ("manufacturer", M::Supplier),
    ("hersteller", M::Supplier),
    ("lieferant", M::Supplier),
    ("material", M::Material),
    ("werkstoff", M::Material),
    ("link", M::Link),
    ("url", M::Link),
    ("notes", M::Note),
    ("note", M::Note),
    ("comment", M::Note),
    ("comments", M::Note),
    ("remark", M::Note),
    ("description", M::Description),
    ("bezeichnung", M::Name),
    ("name", M::Name),
];

/// A title without blanks, marks, unit and letter case.
pub(crate) fn plain(text: &str) -> String {
    let mut out = String::new();
    for c in text.trim().trim_start_matches('\u{feff}').chars() {
        if c.is_alphanumeric() || matches!(c, '#' | '°' | '№' | '/') {
            out.extend(c.to_lowercase());
        } else if !out.ends_with(' ') {
            out.push(' ');
        }
    }
    out.trim().to_owned()
}

fn lookup(plain: &str) -> Option<Meaning> {
    static TABLE: OnceLock<BTreeMap<&'static str, Meaning>> = OnceLock::new();
    let table = TABLE.get_or_init(|| EXACT.iter().rev().flat_map(|(m, list)| list.split('|').map(|t| (t, *m))).collect());
    table.get(plain).copied()
}

/// Understands a column title; `None` if it is none that is known.
pub(crate) fn understand(text: &str) -> Option<Title> {
    if text.chars().count() > 48 || text.trim().is_empty() || text.contains("://") {
        return None;
    }
    let (before, unit) = unit_part(text);
    let plain_whole = plain(&before);
    let stripped = plain_whole.trim_start_matches(['#', ' ']).trim_end_matches(['/', ' ']);
    let mut found = lookup(&plain_whole).or_else(|| lookup(stripped)).map(|m| (m, true));
    // Level 1, Level 2, ... side by side are a path over columns.
    let words: Vec<&str> = stripped.split([' ', '/']).filter(|w| !w.is_empty()).collect();
    if found.is_none()
        && words.len() == 2
        && words[1].parse::<u8>().is_ok()
        && matches!(lookup(words[0]), Some(M::Level | M::Group | M::Path))
    {
        found = Some((M::Path, true));
    }
    if found.is_none() {
        let lines: Vec<Meaning> = words.iter().filter_map(|w| WORDS.iter().find(|(k, _)| k == w).map(|(_, m)| *m)).collect();
        found = lines.first().map(|m| (*m, false));
    }
    let (mut meaning, exact) = found?;
    let total = words
        .iter()
        .any(|w| matches!(*w, "total" | "line" | "extended" | "ext" | "gesamt" | "sum" | "summe" | "totale" | "totaal"));
    let bought = words.iter().any(|w| matches!(*w, "bought" | "ordered" | "order" | "purchased" | "buy"));
    meaning = match meaning {
        M::Price if total => M::PriceLine,
        M::Mass if total => M::MassLine,
        M::Quantity if total && !exact => M::QuantityTotal,
        M::Quantity if bought && !exact => M::QuantityBought,
        m => m,
    };
    let lower = plain(text);
    let each = ["unit", "each", "piece", "per piece", "stück", "einzel", "unitaire", "unitario", "p u", "pu", "ea", "pc", "単価"];
    let per = match meaning {
        M::PriceLine | M::MassLine => Per::Line,
        M::Price | M::Mass if each.iter().any(|w| lower.contains(w)) && !lower.contains("pack") => Per::Piece,
        _ => Per::Unknown,
    };
    let money = matches!(meaning, M::Price | M::PriceLine);
    let currency = money.then(|| price::currency(text).0).flatten();
    Some(Title {
        meaning,
        exact,
        unit: unit.filter(|_| !money),
        currency,
        per,
        tax: if money { price::tax(text) } else { Tax::Unknown },
    })
}

/// Splits `Mass (g)`, `Length [mm]`, `Weight in kg` into title and unit.
fn unit_part(text: &str) -> (String, Option<String>) {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let (Some(a), Some(b)) = (text.find(open), text.rfind(close))
            && a < b
        {
            let unit = text[a + open.len_utf8()..b].trim().to_owned();
            let rest = format!("{} {}", &text[..a], &text[b + close.len_utf8()..]);
            return (rest, Some(unit).filter(|u| !u.is_empty() && u.chars().count() < 10));
        }
    }
    if let Some((before, unit)) = text.rsplit_once(" in ").or_else(|| text.rsplit_once(", "))
        && crate::quantity::unit_kind(unit).is_some()
    {
        return (before.to_owned(), Some(unit.trim().to_owned()));
    }
    (text.to_owned(), None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_in_many_dresses() {
        for t in [
            "Qty",
            "Qty.",
            "QTY.",
            "Quantity ",
            "quantity",
            "Menge",
            "menge",
            "Quantité",
            "Ilość",
            "# req in assy",
            "\u{feff}Qty",
            "数量",
        ] {
            assert_eq!(understand(t).map(|t| t.meaning), Some(M::Quantity), "{t}");
        }
        let mass = understand("Mass (g)").expect("known");
        assert_eq!((mass.meaning, mass.unit.as_deref()), (M::Mass, Some("g")));
        let price = understand("Unit price [EUR] excl. VAT").expect("known");
        assert_eq!(
            (price.meaning, price.currency.as_deref(), price.per, price.tax),
            (M::Price, Some("EUR"), Per::Piece, Tax::Excluded)
        );
        assert_eq!(understand("Total price").map(|t| t.meaning), Some(M::PriceLine));
        assert_eq!(understand("Level 2").map(|t| t.meaning), Some(M::Path));
        assert_eq!(understand("M5 screw"), None);
    }
}
