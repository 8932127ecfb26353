use super::*;

/// Reads the path of a drawing back into dots, as a printer would, and the dots with a reader that is not the writer's.
fn scan(markup: &str, lost: impl Fn(usize, usize) -> bool) -> String {
    let view = markup.split("viewBox=\"0 0 ").nth(1).unwrap().split(' ').next().unwrap();
    let side: usize = view.parse().unwrap();
    let path = markup.split("<path d=\"").nth(1).unwrap().split('"').next().unwrap();
    let mut dark = vec![false; side * side];
    for bar in path.split_terminator('z') {
        let (from, run) = bar.strip_prefix('M').unwrap().split_once('h').unwrap();
        let (x, y) = from.split_once(' ').unwrap();
        let (x, y): (usize, usize) = (x.parse().unwrap(), y.parse().unwrap());
        let length: usize = run.split('v').next().unwrap().parse().unwrap();
        assert_eq!(run, format!("{length}v1h-{length}"));
        for x in x..x + length {
            assert!([x, y].iter().all(|at| (4..side - 4).contains(at)), "the border of four modules stays white");
            dark[y * side + x] = !lost(x, y);
        }
    }
    let scale = 5;
    let ink = |x: usize, y: usize| if dark[y / scale * side + x / scale] { 0 } else { 255 };
    let mut picture = rqrr::PreparedImage::prepare_from_greyscale(side * scale, side * scale, ink);
    let grids = picture.detect_grids();
    assert_eq!(grids.len(), 1);
    grids[0].decode().unwrap().1
}

fn id(n: u128) -> String {
    format!("{n:032x}")
}

#[test]
fn another_reader_reads_the_address_back() {
    for number in [1, 12_345, u128::MAX / 7, u128::MAX] {
        let address = part_address("http://192.168.1.20:7070/", &id(number));
        assert_eq!(scan(&code(&address).unwrap().into_string(), |_, _| false), address);
        assert!(address.starts_with("http://192.168.1.20:7070/p/") && address.bytes().all(|b| b.is_ascii_graphic()), "{address}");
    }
}

#[test]
fn a_code_with_a_streak_still_reads() {
    // A dead element of a print head leaves a white line of about one module along the paper.
    let address = part_address("http://192.168.1.20:7070", &id(3));
    for column in [14, 20, 28] {
        assert_eq!(scan(&code(&address).unwrap().into_string(), |x, _| x == column), address, "column {column}");
    }
}

#[test]
fn every_length_up_to_the_longest_reads_and_beyond_it_there_is_a_warning() {
    for length in (20..=CODE_BYTES).step_by(7).chain([CODE_BYTES]) {
        let address = format!("http://h/s/{}", "x".repeat(length - 11));
        let drawn = code(&address).unwrap().into_string();
        assert_eq!(scan(&drawn, |_, _| false), address);
        let side: usize = drawn.split("viewBox=\"0 0 ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
        assert!(side <= 65 + 8, "{length} bytes take {side} modules");
    }
    let label = Label { number: "P1".into(), address: "x".repeat(CODE_BYTES + 1), ..Label::default() };
    let sheet = sheet(&[label], &Layout::default());
    assert_eq!(sheet.problems.iter().map(|p| (p.code, p.is_error())).collect::<Vec<_>>(), [("label-code", false)]);
    let markup = sheet.markup.into_string();
    assert!(markup.contains("P1") && !markup.contains("<svg"), "{markup}");
}

fn label(n: usize) -> Label {
    Label { number: format!("P{n}"), name: format!("Part {n}"), address: format!("http://h/{n}"), ..Label::default() }
}

#[test]
fn labels_fill_pages_in_their_order_behind_the_places_used_up() {
    let labels: Vec<Label> = (1..=30).map(label).collect();
    let pages = |layout: &Layout| -> Vec<(usize, usize)> {
        let markup = sheet(&labels, layout).markup.into_string();
        let count = |page: &str, what: &str| page.matches(what).count();
        markup.split("<ol").skip(1).map(|p| (count(p, "\"label used\""), count(p, "<li class=\"label\""))).collect()
    };
    assert_eq!(pages(&Layout { paper: Paper::A4, used: 5 }), [(5, 19), (0, 11)]);
    assert_eq!(pages(&Layout { paper: Paper::Letter, used: 24 }), [(0, 24), (0, 6)]);
    assert_eq!(pages(&Layout { paper: Paper::Roll, used: 3 }), [(0, 1); 30]);
    let markup = sheet(&labels, &Layout::default()).markup.into_string();
    let order: Vec<usize> = (1..=30).map(|n| markup.find(&format!("<bdi>P{n}</bdi>")).unwrap()).collect();
    assert!(order.is_sorted());
}

#[test]
fn words_are_text_and_nothing_is_inline() {
    let hostile = "<script>alert(1)</script>\" onload=\"x";
    let words = Label {
        number: hostile.into(),
        name: hostile.into(),
        count: hostile.into(),
        date: hostile.into(),
        cautions: vec![hostile.into(), "  ".into()],
        address: "http://h/1".into(),
    };
    let markup = sheet(&[words], &Layout::default()).markup.into_string();
    assert!(!markup.contains("<script") && !markup.contains("style=") && !markup.contains("\" onload"), "{markup}");
    assert_eq!(markup.matches("&lt;script&gt;").count(), 5);
    let caution = markup.split("label-caution\">").nth(1).unwrap().split("</p>").next().unwrap();
    assert_eq!(caution.matches("<bdi>").count(), 1, "an empty caution is not printed");
}

#[test]
fn a_label_without_a_name_has_a_line_to_write_on_and_a_name_sets_its_own_direction() {
    let blank = Label { name: " ".into(), ..label(1) };
    assert!(sheet(&[blank], &Layout::default()).markup.into_string().contains("label-name write"));
    let named = sheet(&[Label { name: "مجفف".into(), ..label(1) }], &Layout::default()).markup.into_string();
    assert!(named.contains("<p class=\"label-name\" dir=\"auto\">مجفف</p>") && !named.contains("write"), "{named}");
}

#[test]
fn the_style_sheet_knows_every_class_and_paper() {
    let css = include_str!("../../assets/labels.css");
    let one = Label { count: "2".into(), cautions: vec!["x".into()], ..label(1) };
    let mut classes: Vec<String> = ["write", "warned.twice", "large", "middle", "small"].map(str::to_owned).into();
    for paper in [Paper::A4, Paper::Letter, Paper::Roll] {
        let markup = sheet(std::slice::from_ref(&one), &Layout { paper, used: 1 }).markup.into_string();
        let found = markup.split("class=\"").skip(1).map(|rest| rest.split('"').next().unwrap());
        classes.extend(found.flat_map(str::split_whitespace).map(str::to_owned));
        assert!(css.contains(&format!("@page {} {{", paper.key())), "{}", paper.key());
    }
    for class in classes {
        assert!(css.contains(&format!(".{class}")), "{class}");
    }
}

#[test]
fn a_number_is_as_large_as_fits_its_line() {
    // The line is 30 mm on the narrowest label; widths of letters in em are of Liberation Sans Bold.
    let em = |c| match c {
        'W' => 0.944,
        'M' => 0.833,
        'A' | 'K' => 0.722,
        'P' => 0.667,
        _ => 0.556,
    };
    for number in ["P1", "P41", "P312", "P1234", "P12345", "MW12", "WWWW", "A1-22", "WWW12"] {
        let millimetres = match size(number) {
            "largest" => 11.0,
            "large" => 9.0,
            "middle" => 6.5,
            small => panic!("{number} is {small}"),
        };
        let width: f64 = number.chars().map(em).sum::<f64>() * millimetres;
        assert!(width < 30.0, "{number} is {width} mm wide");
    }
    assert_eq!((size("P312"), size("P1234"), size("P12345678")), ("largest", "large", "small"));
}

#[test]
fn cautions_take_the_room_they_need_and_a_warning_tells_when_there_is_none() {
    let with = |cautions: &[&str]| {
        let label = Label { cautions: cautions.iter().map(|c| (*c).to_owned()).collect(), ..label(1) };
        let sheet = sheet(&[label], &Layout::default());
        let class = sheet.markup.into_string().split("<li class=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        (class, sheet.problems.iter().map(|p| p.code).collect::<Vec<_>>())
    };
    assert_eq!(with(&[]), ("label".into(), vec![]));
    assert_eq!(with(&["high voltage", "do not open"]), ("label warned".into(), vec![]));
    assert_eq!(with(&["high voltage", "do not open", "keep upright, leaks"]), ("label warned twice".into(), vec![]));
    assert_eq!(
        with(&["感電注意", "高電圧につき開けないでください", "直射日光を避けて保管"]),
        ("label warned twice".into(), vec![])
    );
    assert_eq!(with(&["x"; 80]), ("label warned twice".into(), vec!["label-caution"]));
}
