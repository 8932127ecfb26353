//! The unit table: every symbol a person may write, its exact factor, and the words for those that are refused.

use crate::Dim;
use crate::exact::{Fraction, Natural};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// One unit of the table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnitInfo {
    /// The symbol as written, without a prefix.
    pub symbol: &'static str,
    /// Other spellings that are read the same.
    pub aliases: &'static [&'static str],
    /// The prefixes the symbol takes, one letter each (`u` and `µ` are micro).
    pub prefixes: &'static str,
    /// The name in words.
    pub name: &'static str,
    /// What it is for and what it is not; the definition where it is a matter of choice.
    pub description: &'static str,
    /// The exact factor to SI base units, as products and quotients of decimals (`pi` to 50 digits).
    pub factor: &'static str,
    /// The dimension.
    pub dim: Dim,
    /// Kelvin to add after the factor, for the temperature points.
    pub offset: Option<&'static str>,
    /// Why it may not stand in a product, if so.
    pub alone: Option<&'static str>,
}

/// The unit table, in the order the documentation shows it.
pub fn units() -> &'static [UnitInfo] {
    UNITS
}

const fn unit(symbol: &'static str, prefixes: &'static str, factor: &'static str, dim: [i32; 8], name: &'static str) -> UnitInfo {
    UnitInfo { symbol, aliases: &[], prefixes, name, description: "", factor, dim: Dim::of(dim), offset: None, alone: None }
}

impl UnitInfo {
    const fn also(mut self, aliases: &'static [&'static str]) -> Self {
        self.aliases = aliases;
        self
    }

    const fn says(mut self, description: &'static str) -> Self {
        self.description = description;
        self
    }

    const fn point(mut self, offset: &'static str) -> Self {
        self.offset = Some(offset);
        self.alone = Some("a temperature point has no products: write `K` for a difference (1 degF of difference is 1 `degR`)");
        self
    }

    const fn alone(mut self, why: &'static str) -> Self {
        self.alone = Some(why);
        self
    }
}

// Exponents in the order kg, m, s, A, K, mol, cd, money.
const PLAIN: [i32; 8] = [0; 8];
const MASS: [i32; 8] = [1, 0, 0, 0, 0, 0, 0, 0];
const LENGTH: [i32; 8] = [0, 1, 0, 0, 0, 0, 0, 0];
const VOLUME: [i32; 8] = [0, 3, 0, 0, 0, 0, 0, 0];
const TIME: [i32; 8] = [0, 0, 1, 0, 0, 0, 0, 0];
const CURRENT: [i32; 8] = [0, 0, 0, 1, 0, 0, 0, 0];
const CHARGE: [i32; 8] = [0, 0, 1, 1, 0, 0, 0, 0];
const TEMPERATURE: [i32; 8] = [0, 0, 0, 0, 1, 0, 0, 0];
const FREQUENCY: [i32; 8] = [0, 0, -1, 0, 0, 0, 0, 0];
const FORCE: [i32; 8] = [1, 1, -2, 0, 0, 0, 0, 0];
const PRESSURE: [i32; 8] = [1, -1, -2, 0, 0, 0, 0, 0];
const ENERGY: [i32; 8] = [1, 2, -2, 0, 0, 0, 0, 0];
const POWER: [i32; 8] = [1, 2, -3, 0, 0, 0, 0, 0];

const UNITS: &[UnitInfo] = &[
    // Length
    unit("m", "numcdk", "1", LENGTH, "metre"),
    unit("in", "", "0.0254", LENGTH, "inch").also(&["inch", "inches", "\"", "\u{2033}"]).says("international inch, exactly 25.4 mm"),
    unit("ft", "", "0.3048", LENGTH, "foot").also(&["feet", "foot"]).says("international foot, exactly 12 in"),
    unit("yd", "", "0.9144", LENGTH, "yard").says("exactly 3 ft"),
    unit("mil", "", "0.0000254", LENGTH, "mil").also(&["mils", "thou"]).says("0.001 in; not a millimetre"),
    unit("mile", "", "1609.344", LENGTH, "mile").also(&["miles"]).says("statute mile, exactly 5280 ft"),
    // Mass
    unit("g", "numkM", "0.001", MASS, "gram").says("the base unit is kg; Mg is the tonne"),
    unit("t", "", "1000", MASS, "tonne").says("metric, 1000 kg; the US short ton is ton_us"),
    unit("lb", "", "0.45359237", MASS, "pound").also(&["lbs", "lbm"]).says("avoirdupois pound of mass; the force is lbf"),
    unit("oz", "", "0.45359237 / 16", MASS, "ounce").says("avoirdupois ounce of mass, 1/16 lb; never the fluid ounce"),
    unit("ton_us", "", "2000 * 0.45359237", MASS, "US ton").says("short ton, exactly 2000 lb"),
    // Time
    unit("s", "pnum", "1", TIME, "second"),
    unit("min", "", "60", TIME, "minute"),
    unit("h", "", "3600", TIME, "hour").also(&["hr"]),
    unit("d", "", "86400", TIME, "day").also(&["day", "days"]).says("24 h, not a working day"),
    unit("week", "", "604800", TIME, "week").also(&["weeks"]).says("7 d"),
    unit("a", "", "31557600", TIME, "year")
        .also(&["year", "years", "yr"])
        .says("the Julian year, exactly 365.25 d; working time per year is stated in h/a"),
    unit("TMU", "", "0.036", TIME, "time measurement unit").says("predetermined motion times: 1e-5 h, exactly 0.036 s"),
    // Counts, shares, angles
    unit("%", "", "0.01", PLAIN, "percent"),
    unit("\u{2030}", "", "0.001", PLAIN, "per mille"),
    unit("ppm", "", "0.000001", PLAIN, "parts per million"),
    unit("pcs", "", "1", PLAIN, "pieces").also(&["pc", "piece", "pieces"]).says("a count; a plain number"),
    unit("cycles", "", "1", PLAIN, "cycles").also(&["cycle"]).says("a count of machine or load cycles; a plain number"),
    unit("rev", "", "1", PLAIN, "revolutions").also(&["revs"]).says("a count of revolutions (mm/rev, rev/min); a plain number, not an angle"),
    unit("rad", "mu", "1", PLAIN, "radian").says("an angle; a plain number"),
    unit("deg", "", "pi / 180", PLAIN, "degree of angle").also(&["\u{b0}"]).says("pi/180 rad; temperature is degC or degF"),
    unit("turn", "", "2 * pi", PLAIN, "turn")
        .also(&["turns"])
        .says("an angle, 2 pi rad; counted revolutions are rev, their rate is rpm")
        .alone("`turn` is an angle of 2 pi rad: write `rev` for counted revolutions, `rpm` for their rate, `rad/s` for angular speed"),
    // Rates in time
    unit("Hz", "mkMG", "1", FREQUENCY, "hertz"),
    unit("rpm", "", "1 / 60", FREQUENCY, "revolutions per minute")
        .says("rotational frequency, the same as 1/min and rev/min; not the angular speed, which is 2 pi times as many rad/s"),
    // Force, pressure, torque
    unit("N", "umkM", "1", FORCE, "newton"),
    unit("Nm", "mkM", "1", ENERGY, "newton metre").says("torque; the same as N*m"),
    unit("kgf", "", "9.80665", FORCE, "kilogram-force").also(&["kp"]).says("standard gravity 9.80665 m/s^2"),
    unit("lbf", "", "0.45359237 * 9.80665", FORCE, "pound-force").says("1 lb at standard gravity; torque is in*lbf or ft*lbf"),
    unit("Pa", "umhkMG", "1", PRESSURE, "pascal"),
    unit("bar", "mu", "100000", PRESSURE, "bar"),
    unit("atm", "", "101325", PRESSURE, "standard atmosphere"),
    unit("mmHg", "", "133.322387415", PRESSURE, "conventional millimetre of mercury")
        .says("13.5951 g/cm^3 at standard gravity"),
    unit("psi", "", "0.45359237 * 9.80665 / 0.0254 / 0.0254", PRESSURE, "pound-force per square inch"),
    unit("ksi", "", "1000 * 0.45359237 * 9.80665 / 0.0254 / 0.0254", PRESSURE, "thousand pound-force per square inch"),
    // Energy, power
    unit("J", "mukMG", "1", ENERGY, "joule"),
    unit("Wh", "mkMG", "3600", ENERGY, "watt hour"),
    unit("eV", "mkM", "0.0000000000000000001602176634", ENERGY, "electronvolt"),
    unit("BTU", "", "1055.05585262", ENERGY, "British thermal unit").also(&["Btu"]).says("International Table unit: 2326 J/kg per BTU/lb"),
    unit("W", "numkMG", "1", POWER, "watt"),
    unit("hp", "", "550 * 0.3048 * 0.45359237 * 9.80665", POWER, "horsepower")
        .says("mechanical horsepower, 550 ft*lbf/s; the metric horsepower is written 75 kgf*m/s"),
    // Electricity
    unit("A", "numk", "1", CURRENT, "ampere"),
    unit("Ah", "mk", "3600", CHARGE, "ampere hour"),
    unit("V", "numkM", "1", [1, 2, -3, -1, 0, 0, 0, 0], "volt"),
    unit("VA", "mkM", "1", POWER, "volt ampere").says("apparent power"),
    unit("ohm", "numkMG", "1", [1, 2, -3, -2, 0, 0, 0, 0], "ohm").also(&["\u{3a9}", "\u{2126}"]),
    unit("S", "numkM", "1", [-1, -2, 3, 2, 0, 0, 0, 0], "siemens").says("conductance; the second is s"),
    unit("farad", "", "1", [-1, -2, 4, 2, 0, 0, 0, 0], "farad").says("with a prefix also pF, nF, uF, mF"),
    unit("pF", "", "0.000000000001", [-1, -2, 4, 2, 0, 0, 0, 0], "picofarad"),
    unit("nF", "", "0.000000001", [-1, -2, 4, 2, 0, 0, 0, 0], "nanofarad"),
    unit("uF", "", "0.000001", [-1, -2, 4, 2, 0, 0, 0, 0], "microfarad").also(&["\u{b5}F", "\u{3bc}F"]),
    unit("mF", "", "0.001", [-1, -2, 4, 2, 0, 0, 0, 0], "millifarad"),
    unit("H", "num", "1", [1, 2, -2, -2, 0, 0, 0, 0], "henry").says("inductance; the hour is h"),
    unit("T", "num", "1", [1, 0, -2, -1, 0, 0, 0, 0], "unit of flux density").says("Wb/m^2; the tonne is t"),
    unit("Wb", "mu", "1", [1, 2, -2, -1, 0, 0, 0, 0], "weber"),
    // Temperature
    unit("K", "m", "1", TEMPERATURE, "kelvin").says("absolute temperature or a difference"),
    unit("degC", "", "1", TEMPERATURE, "degree Celsius")
        .also(&["\u{b0}C", "\u{2103}"])
        .says("a temperature point: 0 degC = 273.15 K; differences are in K")
        .point("273.15"),
    unit("degF", "", "5 / 9", TEMPERATURE, "degree Fahrenheit")
        .also(&["\u{b0}F", "\u{2109}"])
        .says("a temperature point: 32 degF = 273.15 K; differences are in degR")
        .point("459.67 * 5 / 9"),
    unit("degR", "", "5 / 9", TEMPERATURE, "degree Rankine").also(&["\u{b0}R"]).says("5/9 K; a difference of one degF"),
    // Volume
    unit("l", "umcdh", "0.001", VOLUME, "litre").also(&["L"]).says("1 dm^3"),
    unit("gal", "", "231 * 0.0254 * 0.0254 * 0.0254", VOLUME, "US gallon").says("US liquid gallon, exactly 231 in^3; not the imperial one"),
    // Others
    unit("mol", "umk", "1", [0, 0, 0, 0, 0, 1, 0, 0], "mole"),
    unit("cd", "mk", "1", [0, 0, 0, 0, 0, 0, 1, 0], "candela"),
    unit("lm", "k", "1", [0, 0, 0, 0, 0, 0, 1, 0], "lumen"),
    unit("lx", "k", "1", [0, -2, 0, 0, 0, 0, 1, 0], "lux"),
    unit("money", "", "1", [0, 0, 0, 0, 0, 0, 0, 1], "money")
        .says("an amount in the currency the study decides; a real amount carries a code such as EUR or USD"),
];

/// Symbols that mean several things, or none here, with the sentence that names the choices.
const REFUSED: &[(&[&str], &str)] = &[
    (&["M"], "`M` may be metre, minute, mega or million: write `m`, `min`, a prefix as in `MPa`, or the number as `1e6`"),
    (&["k"], "`k` may be kelvin, kilo or thousand: write `K`, a prefix as in `kg`, or the number as `1e3`"),
    (&["C"], "`C` may be a temperature or a charge: write `degC`, or `A*s` for the coulomb"),
    (&["F"], "`F` may be a temperature or a capacitance: write `degF`, or `farad` (`uF`, `nF`, `pF`)"),
    (&["G"], "`G` may be gram, giga or standard gravity: write `g`, a prefix as in `GPa`, or `9.80665 m/s^2`"),
    (&["c"], "`c` may be centi or cent: write `cm`, or the amount as `0.01 USD`"),
    (&["R"], "`R` may be a temperature or a resistance: write `degR` or `ohm`"),
    (&["u", "\u{b5}", "\u{3bc}"], "`u` alone is only a prefix: write `um`, or the mass as `kg`"),
    (&["ton", "tons", "Ton"], "`ton` may be metric or US: write `t` (1000 kg) or `ton_us` (2000 lb)"),
    (&["floz", "fl_oz", "ozf"], "`oz` is a mass here: write a volume as `ml` or `gal`, a force as `N` or `lbf`"),
    (&["cal", "kcal", "Cal"], "there are several calories: write the energy in `J`"),
    (&["PS", "CV", "cv"], "the metric horsepower is written `75 kgf*m/s`; `hp` is 550 ft*lbf/s"),
    (&["mo", "month", "months"], "months differ in length: write `d`, `week` or `a`"),
    (&["mi"], "`mi` may be mile or mil: write `mile` (5280 ft) or `mil` (0.001 in)"),
    (&["'", "\u{2032}"], "`'` may be foot or minute of angle: write `ft`, or the angle in `deg`"),
    (&["#"], "`#` may be pound or a count: write `lb` or `pcs`"),
    (&["$"], "`$` may be one of several dollars: write the code, `USD`, `CAD` or `AUD`"),
    (&["\u{20ac}"], "write the code `EUR`"),
    (&["\u{a3}"], "`\u{a3}` may be one of several pounds: write the code, such as `GBP`"),
    (&["\u{a5}"], "`\u{a5}` may be yen or yuan: write the code, `JPY` or `CNY`"),
    (&["cent", "cents", "ct", "ct.", "pence"], "write the amount in the main unit of its currency: `0.01 USD`"),
    (&["cc", "ccm", "qmm", "sqmm"], "write the power: `cm^3` or `mm^2`"),
    (&["sec", "secs", "second", "seconds"], "write `s`"),
    (&["hrs", "hour", "hours"], "write `h`"),
    (&["mins", "minute", "minutes"], "write `min`, or an angle in `deg`"),
    (&["gr", "gm", "gms", "gram", "grams"], "write `g`"),
    (&["kilo", "kilos", "Kilo"], "write `kg`"),
    (&["pound", "pounds"], "`pound` may be mass, force or money: write `lb`, `lbf` or `GBP`"),
    (&["ounce", "ounces"], "write `oz` for the mass; a volume in `ml`"),
    (&["meter", "metre", "meters", "metres"], "write `m`"),
    (&["micron", "microns", "mu"], "write `um`"),
    (&["each", "ea", "off", "units", "unit", "stk"], "write `pcs`"),
    (&["deg_C", "celsius", "Celsius", "degc", "DegC"], "write `degC`"),
    (&["deg_F", "fahrenheit", "Fahrenheit", "degf", "DegF"], "write `degF`"),
    (&["kelvin", "Kelvin"], "write `K`"),
    (&["percent", "pct"], "write `%`"),
    (&["ppb", "ppt"], "long and short scale differ: write the number as `1e-9`"),
    (
        &["dB", "dBA", "HV", "HB", "HRC", "HRB", "HRA"],
        "a scale is not a unit: state it as a plain number and name the scale in the quantity",
    ),
];

/// A symbol found in the table, prefix included.
pub(crate) struct Known {
    pub(crate) info: &'static UnitInfo,
    pub(crate) factor: Fraction,
    pub(crate) offset: Option<Fraction>,
}

/// Looks a symbol up, prefix included.
pub(crate) fn known(symbol: &str) -> Option<&'static Known> {
    all().get(symbol)
}

/// Why a symbol is refused, if it is one of those.
pub(crate) fn refused(symbol: &str) -> Option<&'static str> {
    REFUSED.iter().find(|(symbols, _)| symbols.contains(&symbol)).map(|(_, why)| *why)
}

/// Symbols that are the same but for letter case, shortest first.
pub(crate) fn same_but_case(symbol: &str) -> Vec<&'static str> {
    static LOWER: OnceLock<BTreeMap<String, Vec<&'static str>>> = OnceLock::new();
    let lower = LOWER.get_or_init(|| {
        let mut map = BTreeMap::<String, Vec<&'static str>>::new();
        for symbol in all().keys() {
            map.entry(symbol.to_lowercase()).or_default().push(symbol);
        }
        map
    });
    lower.get(&symbol.to_lowercase()).cloned().unwrap_or_default()
}

/// Every symbol with its prefixes.
pub(crate) fn all() -> &'static BTreeMap<String, Known> {
    static ALL: OnceLock<BTreeMap<String, Known>> = OnceLock::new();
    ALL.get_or_init(|| {
        let mut map = BTreeMap::new();
        for info in UNITS {
            let factor = fraction(info.factor);
            let offset = info.offset.map(fraction);
            for symbol in std::iter::once(&info.symbol).chain(info.aliases) {
                map.insert((*symbol).to_owned(), Known { info, factor: factor.clone(), offset: offset.clone() });
                for prefix in info.prefixes.chars() {
                    let (spellings, exponent) = prefix_of(prefix);
                    let factor = factor.mul(&Fraction::ten_to(exponent));
                    for spelling in spellings {
                        map.insert(format!("{spelling}{symbol}"), Known { info, factor: factor.clone(), offset: None });
                    }
                }
            }
        }
        map
    })
}

/// Spellings and power of ten of a prefix letter.
fn prefix_of(letter: char) -> (&'static [&'static str], i32) {
    match letter {
        'p' => (&["p"], -12),
        'n' => (&["n"], -9),
        'u' => (&["u", "\u{b5}", "\u{3bc}"], -6),
        'm' => (&["m"], -3),
        'c' => (&["c"], -2),
        'd' => (&["d"], -1),
        'h' => (&["h"], 2),
        'k' => (&["k"], 3),
        'M' => (&["M"], 6),
        'G' => (&["G"], 9),
        _ => (&[], 0),
    }
}

/// The factor text of the table as a fraction. A malformed entry gives one; the tests below read every entry.
fn fraction(text: &str) -> Fraction {
    let (mut value, mut over) = (Fraction::one(), true);
    for word in text.split_whitespace() {
        match word {
            "*" => over = true,
            "/" => over = false,
            word => {
                let number = decimal(if word == "pi" { PI } else { word });
                value = if over { value.mul(&number) } else { value.div(&number) };
            }
        }
    }
    value
}

/// The circle constant to 37 places: beyond what a rounding to a float can notice.
const PI: &str = "3.1415926535897932384626433832795028842";

fn decimal(text: &str) -> Fraction {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = format!("{whole}{part}").parse().unwrap_or(1);
    Fraction { num: Natural::from_u128(digits), den: Natural::ten_to(u32::try_from(part.len()).unwrap_or(0)) }
        .mul(&Fraction::one())
}
