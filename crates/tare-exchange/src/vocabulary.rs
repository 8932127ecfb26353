//! The words that column titles are made of, in the languages lists come in.

use crate::mapping::Meaning;
use Meaning as M;

/// Whole titles by meaning, in plain form, separated by bars.
pub(crate) const EXACT: &[(Meaning, &str)] = &[
    (
        M::Quantity,
        "qty|quantity|quantities|menge|anzahl|stückzahl|stk|stck|quantité|quantite|qté|qte|nombre|cantidad|cant|quantità|quantita|qta|q ta|ilość|ilosc|szt|aantal|hoeveelheid|quantidade|qtd|množství|pocet|počet|antal|määrä|mennyiség|количество|кол во|数量|個数|quant|qnty|qnt|pcs|pieces|count|amount|no off|nr off|no of pieces|number of pieces|number required|qty needed|qty required|needed|required|need|req in assy|number|qty per unit|units|liczba|liczba sztuk|ilość sztuk|ilość szt|sztuk|reqd|req d|req qty|required qty|qty reqd|no required|nos|nb|nbre|кол во шт|benötigt|stk pro gerät",
    ),
    (
        M::QuantityBought,
        "qty bought|quantity bought|qty ordered|ordered|order qty|order quantity|qty to buy|quantity to buy|to order|bestellmenge|bought|purchased|qty purchased|commandé|purchase qty|packs to order|buy qty|bestellt|zu bestellen|zamówiono|order",
    ),
    (
        M::Multiplier,
        "multiplier|no of assemblies|number of assemblies|assemblies|units needed|sets needed|copies|times used|faktor|multiplikator|qty of assemblies|assy qty",
    ),
    (
        M::QuantityTotal,
        "total qty|total quantity|qty total|quantity total|gesamtmenge|gesamtanzahl|quantité totale|extended qty|ext qty|bedarf|gesamtbedarf|requirement|total required|total needed|łączna ilość|qty needed total",
    ),
    (
        M::PartNumber,
        "part number|part no|part nr|partnumber|part num|pn|p n|p/n|article number|article no|artikelnummer|artikelnr|artikel nr|artnr|art nr|teilenummer|teilenr|teile nr|sachnummer|mat nr|materialnummer|référence|reference number|ref no|référence article|numéro de pièce|número de pieza|codice|codice articolo|codigo|código|numer części|nr części|номер детали|артикул|sku|mpn|mfr part number|manufacturer part number|mfg part number|mfr pn|mfg pn|mfr part|manufacturer pn|item code|item number|品番|部品番号|partno|drawing number|drawing no|zeichnungsnummer|order code|sach nr|sachnr|ident nr|identnummer|ident|mat no|part id|part code|item nr code|numer katalogowy|katalognummer|bestell nr|bestellnr|réf",
    ),
    (
        M::Position,
        "pos|position|no|nr|n°|nº|№|#|index|id|line|pos nr|item no|item nr|lfd nr|lp|row|wbs|find no|find number|numbering|s no|sr no|sl no|repère|rep|rép|lfd|l p|поз|позиция|poz|num|pozycja|item #",
    ),
    (
        M::Level,
        "level|lvl|bom level|ebene|stufe|niveau|livello|nivel|poziom|depth|indent level|indenture|structure level|уровень",
    ),
    (
        M::Name,
        "name|part name|part|item|component|components|item name|title|bezeichnung|benennung|teil|bauteil|name des teils|désignation|designation|nom|pièce|nombre de pieza|denominación|denominazione|nome|pezzo|nazwa|część|element|onderdeel|benaming|naam|název|díl|benämning|namn|nimi|megnevezés|наименование|название|деталь|名称|品名|部品名|parts|article|artikel|what|product|material description|produkt|part description|nazwa części|nazwa elementu|componente|onderdeelnaam|bauteilname|teilename|teilebezeichnung|komponente",
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
        "price|cost|preis|kosten|prix|coût|precio|costo|coste|prezzo|cena|koszt|prijs|preço|custo|pris|цена|стоимость|価格|unit price|unit cost|price each|cost each|price per unit|price per piece|cost per unit|stückpreis|einzelpreis|preis pro stück|prix unitaire|p u|pu|precio unitario|prezzo unitario|cena jednostkowa|цена за шт|単価|each|price ea|cost ea|unitprice|preis stk|price pc|pack price|price per pack|ep|e preis|ek|ek preis|vk|vk preis|stückkosten|einzelkosten|cena netto|cena brutto|cena szt|prix unit|prix ht|preis netto|preis brutto",
    ),
    (
        M::PriceLine,
        "total price|total cost|line price|line total|ext price|extended price|ext cost|extended cost|gesamtpreis|summe|prix total|precio total|prezzo totale|wartość|totaal|итого|сумма|金額|subtotal|total|price total|cost total|gesamtkosten|gesamt|amount eur|montant|gp|g preis|betrag|gesamtbetrag|importe|kwota|razem|importe total|montant ht|total ht|total ttc|prix total ht|line cost|sum|total eur|total usd",
    ),
    (
        M::PackSize,
        "pack size|pack qty|package quantity|pack|packung|verpackungseinheit|ve|per pack|pieces per pack|qty per pack|moq|pcs per pack|lot size|pack of|packs of|pieces per package|stück pro packung|inhalt",
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
        "dnp|dnf|dni|fitted|populate|populated|mounted|bestückt|bestückung|not fitted|do not populate|assemble|nofit|stuffing|exclude from bom|excluded from bom|in bom|place|placement",
    ),
    (M::Option, "optional|option|alternative|alternatives|spare|alt|alternate|ersatz|oder"),
];

/// Words that give a title its meaning wherever they stand in it.
pub(crate) const WORDS: &[(Meaning, &str)] = &[
    (
        M::Quantity,
        "qty|qté|qte|quantity|quantité|quantite|menge|anzahl|stückzahl|stk|ilość|ilosc|liczba|cantidad|cant|quantità|aantal|количество|кол|pieces|req|počet",
    ),
    (M::Mass, "weight|mass|gewicht|masse|poids|peso|masa|waga|massa|масса|вес|hmotnost|vikt"),
    (M::Price, "price|cost|costs|preis|kosten|prix|coût|cout|precio|coste|prezzo|costo|cena|koszt|prijs|цена|стоимость"),
    (
        M::Supplier,
        "supplier|vendor|manufacturer|hersteller|lieferant|fournisseur|fabricant|proveedor|fornitore|dostawca|producent|поставщик",
    ),
    (M::Material, "material|werkstoff|matière|matériau|materiał|materiale|материал"),
    (M::Link, "link|url"),
    (M::Note, "notes|note|comment|comments|remark|remarks|bemerkung|bemerkungen|uwagi|remarque|примечание"),
    (M::Description, "description|beschreibung|opis|descripción|descrizione|описание"),
    (M::Group, "assembly|subassembly|baugruppe|unterbaugruppe|group|gruppe|subsystem|module|ensemble|gruppo|grupa|zespół"),
    (M::Name, "name|bezeichnung|benennung|désignation|designation|nazwa|nome|naam|наименование|название"),
];

/// Last members of closed compounds, as in `Sachnummer`, `Einkaufspreis`, `Stückgewicht`.
pub(crate) const HEADS: &[(&str, Meaning)] = &[
    ("nummer", M::PartNumber),
    ("bezeichnung", M::Name),
    ("benennung", M::Name),
    ("preis", M::Price),
    ("kosten", M::Price),
    ("gewicht", M::Mass),
    ("masse", M::Mass),
    ("menge", M::Quantity),
    ("anzahl", M::Quantity),
    ("hersteller", M::Supplier),
    ("lieferant", M::Supplier),
    ("werkstoff", M::Material),
    ("prijs", M::Price),
];

/// Things that are built several times: a number of them is a multiplier, not a quantity of parts.
pub(crate) const BUILT: &[&str] = &[
    "assemblies",
    "assembly",
    "assys",
    "machines",
    "devices",
    "robots",
    "vehicles",
    "products",
    "geräte",
    "maschinen",
    "baugruppen",
    "systeme",
    "systems",
    "urządzeń",
    "maszyn",
    "appareils",
    "machine",
    "ensembles",
    "kits",
    "sets",
];

/// Words after which a title only says for what: `Price per piece`, `Menge pro Gerät`.
pub(crate) const FOR_WHAT: &[&str] =
    &["per", "pro", "je", "for", "für", "par", "pour", "por", "za", "na", "of", "in", "de", "du", "za", "each", "req"];
