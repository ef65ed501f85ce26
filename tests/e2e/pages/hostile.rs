//! Names, notes and reasons that want to be markup, programs or formulas are the text they are: they
//! come back as they were typed, and no page has them in it as anything else.

use std::collections::{BTreeSet, VecDeque};

use super::browser::encoded;
use super::form::{Form, text};
use super::shop::{As, Shop};

const MANAGER: As = As::Manager;

/// The texts, which the tests in a real browser use as well.
fn hostile_texts() -> Vec<String> {
    serde_json::from_str(include_str!("../data/hostile_texts.json")).unwrap()
}

/// Text fields that take no free text: what is typed there is read as a day, a time or a figure.
const READ: &[&str] = &[
    "day",
    "time",
    "start_date",
    "inspected_on",
    "next_due",
    "loop1_coupling",
    "loop2_coupling",
    "calibration_due",
    "first_frost",
];

/// Every field of a form that takes free text.
fn free_text(shop: &Shop, path: &str) -> BTreeSet<String> {
    let page = shop.get(MANAGER, path).body;
    let form = page.split(&format!("action=\"{path}\"")).nth(1).unwrap();
    let form = form.split("</form>").next().unwrap();
    let tags = form.split('<').map(|tag| tag.split('>').next().unwrap());
    let free = tags.filter(|tag| {
        tag.starts_with("textarea") || (tag.starts_with("input") && tag.contains(" type=\"text\""))
    });
    free.filter(|tag| !tag.contains(" data-pad="))
        .map(|tag| tag.split(" name=\"").nth(1).unwrap())
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .filter(|name| !READ.contains(&name.as_str()))
        .collect()
}

/// Fills a form in, with the text in every field that takes free text; those of `named` get theirs.
fn filled(shop: &Shop, path: &str, hostile: &str, named: &[(&str, &str)]) -> Form {
    let form = Form::open(shop, MANAGER, path);
    let texts = free_text(shop, path);
    assert!(!texts.is_empty(), "{path}");
    let form = texts
        .iter()
        .fold(form, |form, name| form.with(name, hostile));
    form.with_all(named)
}

/// The form at an address has the text in each of these fields.
fn comes_back(shop: &Shop, path: &str, hostile: &str, except: &[&str]) {
    let form = Form::open(shop, MANAGER, path);
    for name in free_text(shop, path) {
        if !except.contains(&name.as_str()) {
            assert_eq!(form.get(&name), hostile, "{path}: {name}");
        }
    }
}

/// The page says the text, and has it nowhere as markup.
fn says(shop: &Shop, path: &str, words: &str) {
    let said = text(&shop.get(MANAGER, path).body);
    let words = collapsed(words);
    assert!(said.contains(&words), "{path}: {words}: {said}");
}

/// A unit with every text of its card, and every kind of job on it with every text of its sheet.
fn unit_of(shop: &Shop, n: usize, hostile: &str, source: &str) -> String {
    let number = format!("{n} {hostile}");
    let card = [
        ("number", number.as_str()),
        ("loop1_base", "EG"),
        ("loop1_class", "OAT"),
        ("loop1_capacity", "40"),
        ("loop1_opening", "30"),
        ("loop1_lowest_part", "120"),
    ];
    let unit = filled(shop, "/units/new", hostile, &card).saved(shop, MANAGER);
    let edit = format!("{unit}/edit");
    let new_loop = ["number", "reason", "loop2_name"];
    comes_back(shop, &edit, hostile, &new_loop);
    assert_eq!(Form::open(shop, MANAGER, &edit).get("number"), number);
    Form::open(shop, MANAGER, &edit)
        .with_all(&[("loop1_capacity", "41"), ("reason", hostile)])
        .saved(shop, MANAGER);
    says(shop, &unit, &format!("Unit {number}"));

    let exchanged = [
        ("gate_temperature", "30"),
        ("gate_pressure", "0"),
        ("to", source),
        ("drain_volume", "1"),
        ("source", "water"),
        ("volume", "1"),
    ];
    let opened = [("gate_temperature", "30"), ("gate_pressure", "0")];
    let cap = [
        &opened[..],
        &[("stamped", "110"), ("opened_at", "108"), ("holds", "yes")],
    ]
    .concat();
    let filter = [&opened[..], &[("charged", "no")]].concat();
    let rinsed = [
        &opened[..],
        &[
            ("rinses", "1"),
            ("water", "1"),
            ("to", source),
            ("volume", "1"),
            ("happened", "yes"),
        ],
    ]
    .concat();
    let sheets: [(&str, &[(&str, &str)]); 14] = [
        ("top_up", &[("source", source), ("volume", "5")]),
        (
            "recover",
            &[
                ("gate_temperature", "30"),
                ("gate_pressure", "0"),
                ("to", source),
                ("volume", "1"),
            ],
        ),
        (
            "fill",
            &[("how", "poured"), ("source", source), ("volume", "1")],
        ),
        ("exchange", &exchanged),
        ("correct", &exchanged),
        (
            "fit_coupling",
            &[
                ("gate_temperature", "30"),
                ("gate_pressure", "0"),
                ("leak_class", "0"),
            ],
        ),
        ("flush", &rinsed),
        ("cap_test", &cap),
        ("filter_change", &filter),
        ("leak_repair", &[]),
        ("sample", &[]),
        ("spill", &[("volume", "1")]),
        ("condition_test", &[("freeze", "44"), ("other_value", "3")]),
        (
            "pressure_test",
            &[
                ("pressure_start", "100"),
                ("temperature_start", "20"),
                ("hold", "5"),
                ("pressure_end", "99"),
                ("temperature_end", "20"),
                ("gauge_step", "1"),
            ],
        ),
    ];
    for (kind, values) in sheets {
        let sheet = filled(shop, &format!("{unit}/jobs/{kind}"), hostile, values);
        let job = sheet.saved(shop, MANAGER);
        let again = Form::on(&sheet.path, &shop.get(MANAGER, &format!("{job}/correct")));
        for name in free_text(shop, &sheet.path) {
            assert_eq!(again.get(&name), hostile, "{kind}: {name}");
        }
        says(shop, &job, hostile);
        if kind == "top_up" {
            answered(shop, &job, hostile);
        }
        if kind == "pressure_test" {
            let taken_back = Form::open(shop, MANAGER, &format!("{job}/void"))
                .with_all(&[("reason", "Wrong volume"), ("words", hostile)])
                .saved(shop, MANAGER);
            says(shop, &taken_back, &format!("Wrong volume: {hostile}"));
        }
    }
    unit
}

/// The source never held so much: the question that this raises is answered in words.
fn answered(shop: &Shop, job: &str, hostile: &str) {
    let page = shop.get(MANAGER, job);
    let mut form = Form::on("/checking", &page);
    form = form.with_all(&[("decision", "accept"), ("reason", hostile)]);
    form.saved(shop, MANAGER);
    says(shop, job, hostile);
}

/// A vessel with the text in its name, and what is said of it in words.
fn vessel_of(shop: &Shop, n: usize, hostile: &str) -> String {
    let name = format!("{n} {hostile}");
    let card = [
        ("name", name.as_str()),
        ("kind", "cart"),
        ("holds", "recovered"),
        ("base", "EG"),
        ("class", "OAT"),
        ("capacity", "200"),
        ("opening", "1"),
        ("opening_strength", "50"),
    ];
    let vessel = filled(shop, "/vessels/new", hostile, &card).saved(shop, MANAGER);
    assert_eq!(
        Form::open(shop, MANAGER, &format!("{vessel}/edit")).get("name"),
        name
    );
    says(shop, &vessel, &name);
    vessel
}

/// What is said in words of a vessel that is done with.
fn taken_out_of_use(shop: &Shop, vessel: &str, hostile: &str) {
    for (kind, values) in [("dip", [("volume", "20")]), ("move", [("volume", "1")])] {
        let path = format!("{vessel}/jobs/{kind}");
        let mut sheet = filled(shop, &path, hostile, &values);
        if kind == "move" {
            let to = other_vessel(shop, &path);
            sheet = sheet.with("to", &to);
        }
        let job = sheet.saved(shop, MANAGER);
        says(shop, &job, hostile);
    }
    let decide = filled(
        shop,
        &format!("{vessel}/decide"),
        hostile,
        &[("fitness", "waste")],
    );
    decide.saved(shop, MANAGER);
    says(shop, vessel, hostile);
}

/// The names of a person, a tablet, a fluid, an instrument and of the shop itself.
fn settings_of(shop: &Shop, n: usize, hostile: &str) {
    let named = format!("{n} {hostile}");
    let handle = format!("H{n}");
    let person = filled(shop, "/people/new", hostile, &[("handle", &handle)]).saved(shop, MANAGER);
    comes_back(shop, &format!("{person}/edit"), hostile, &["handle"]);
    says(shop, "/people", &format!("{handle} {hostile}"));
    let tablet = filled(shop, "/tablets", hostile, &[]).send(shop, MANAGER);
    assert!(
        text(&tablet.body).contains(&collapsed(hostile)),
        "{hostile}"
    );

    let bought = [
        ("name", named.as_str()),
        ("base", "EG"),
        ("class", "OAT"),
        ("strength", "50"),
    ];
    let list = filled(shop, "/settings/fluids/new", hostile, &bought).saved(shop, MANAGER);
    says(shop, &list, &named);
    let measures = [
        ("tag", named.as_str()),
        ("tool", "strip"),
        ("scale", "none"),
    ];
    let list = filled(shop, "/settings/instruments/new", hostile, &measures).saved(shop, MANAGER);
    says(shop, &list, &named);
    filled(shop, "/settings/shop", hostile, &[]).saved(shop, MANAGER);
    comes_back(shop, "/settings/shop", hostile, &[]);
    let head = text(&shop.get(MANAGER, "/help").body);
    assert!(!head.contains("alert(1)"), "{head}");
    says(shop, "/settings", hostile);
}

/// As a page without its markup has it.
fn collapsed(words: &str) -> String {
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The first vessel that a sheet offers to move into.
fn other_vessel(shop: &Shop, path: &str) -> String {
    let page = shop.get(MANAGER, path).body;
    let rest = page.split("name=\"to\" value=\"").nth(1).unwrap();
    rest.split('"').next().unwrap().to_owned()
}

#[test]
fn every_text_of_every_form_comes_back_as_it_was_typed_and_is_text_on_every_page() {
    let shop = Shop::open();
    let texts = hostile_texts();
    assert_eq!(texts.len(), 40);
    // First, because a proof of who one is soon wears out.
    for (n, hostile) in texts.iter().enumerate() {
        settings_of(&shop, n, hostile);
    }
    for (n, hostile) in texts.iter().enumerate() {
        let vessel = vessel_of(&shop, n, hostile);
        let id = vessel.rsplit('/').next().unwrap().to_owned();
        let unit = unit_of(&shop, n, hostile, &id);
        taken_out_of_use(&shop, &vessel, hostile);
        // Some stay in use, so that the lists show them.
        if n % 2 == 1 {
            filled(&shop, &format!("{unit}/retire"), hostile, &[]).saved(&shop, MANAGER);
            says(&shop, &unit, hostile);
        }
        let query = encoded(&[("text", hostile), ("status", "ready")]);
        let search = format!("/units?{query}");
        let page = shop.get(MANAGER, &search);
        assert!(
            !page.body.contains(hostile) || is_plain(hostile),
            "{search}"
        );
    }
    let seen = every_page(&shop, &texts);
    assert!(seen > 300, "{seen} pages were seen");
    shop.book_is_closed();
}

/// The text has no sign in it that a page must write otherwise.
fn is_plain(hostile: &str) -> bool {
    !hostile.contains(['<', '>', '"', '\'', '&'])
}

/// Goes to whatever the pages lead to, and sees that none has a text in it as it was typed where it
/// would be markup. Hands back how many there were.
fn every_page(shop: &Shop, texts: &[String]) -> usize {
    const MOST: usize = 700;
    let mut found: BTreeSet<String> = BTreeSet::from(["/".to_owned()]);
    let mut ahead = VecDeque::from(["/".to_owned()]);
    let mut seen = 0;
    while let Some(path) = ahead.pop_front() {
        let answer = shop.get(MANAGER, &path);
        assert!(
            matches!(answer.status, 200 | 303),
            "{path}: {}",
            answer.status
        );
        seen += 1;
        for hostile in texts.iter().filter(|hostile| !is_plain(hostile)) {
            assert!(!answer.body.contains(hostile.as_str()), "{path}: {hostile}");
        }
        for (at, _) in answer.body.match_indices("href=\"") {
            let link = answer.body[at + 6..].split('"').next().unwrap();
            let link = super::browser::unescaped(link);
            assert!(
                link.starts_with(['/', '#', '?']) && !link.starts_with("//"),
                "{path}: {link}"
            );
            let here = path.split('?').next().unwrap();
            let link = link.split('#').next().unwrap();
            let link = match link.strip_prefix('?') {
                Some(query) => format!("{here}?{query}"),
                None => link.to_owned(),
            };
            if link.is_empty() || link.starts_with("/static/") || found.len() >= MOST {
                continue;
            }
            if found.insert(link.clone()) {
                ahead.push_back(link);
            }
        }
    }
    seen
}
