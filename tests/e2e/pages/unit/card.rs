//! GET and POST of /units/new and /units/{unit}/edit.

use super::address;
use crate::pages::form::{Form, problems, text};
use crate::pages::shop::{As, Shop};

/// A new unit with one loop.
fn filled(shop: &Shop, number: &str) -> Form {
    Form::open(shop, As::Manager, "/units/new").with_all(&[
        ("number", number),
        ("kind", "transit bus"),
        ("engine_family", "bus diesel 9 L"),
        ("loop1_base", "EG"),
        ("loop1_class", "NOAT"),
        ("loop1_capacity", "72"),
        ("loop1_target", "50"),
        ("loop1_opening", "48.5"),
        ("loop1_cap_rating", "15"),
        ("loop1_cap_rating_unit", "psi"),
        ("loop1_air_space", "3.5"),
        ("loop1_coupling", "2026-09-01"),
    ])
}

#[test]
fn a_new_unit_opens_full_at_the_strength_that_was_stated() {
    let shop = Shop::open();
    let form = filled(&shop, "4204");
    assert_eq!(form.get("loop1_name"), "engine");
    let facts = shop.facts();
    let unit = form.saved(&shop, As::Manager);
    assert_eq!(shop.facts(), facts + 2, "the card and the opening");
    let page = text(&shop.get(As::Technician, &unit).body);
    for said in [
        "Unit 4204",
        "72.0 L",
        "48.5 %",
        "EG NOAT, cap rated 15 psi, air space when cold 3.5 L, drain coupling fitted on 2026-09-01",
        "No test yet",
    ] {
        assert!(page.contains(said), "{said}: {page}");
    }
    // Sent again, as a tablet does when the answer was lost.
    assert_eq!(form.saved(&shop, As::Manager), unit);
    assert_eq!(shop.facts(), facts + 2);
    shop.book_is_closed();
}

#[test]
fn a_number_in_use_is_refused_with_a_way_to_the_unit_that_has_it() {
    let shop = Shop::open();
    for number in ["3304", " 3304 "] {
        let form = filled(&shop, number);
        let answer = form.send(&shop, As::Manager);
        assert_eq!(answer.status, 422);
        let said = problems(&answer.body);
        assert_eq!(
            said,
            ["Unit number: Unit 3304 is on record and in use; open it, or type another number."]
        );
        assert!(answer.body.contains(&format!(
            "<a href=\"{}\">Open unit 3304</a>",
            address(&shop, "3304")
        )));
    }
    filled(&shop, "A 12").saved(&shop, As::Manager);
    assert!(
        !filled(&shop, "a  12")
            .refused(&shop, As::Manager)
            .is_empty()
    );
}

#[test]
fn an_edit_changes_the_card_with_a_reason_and_says_who_did_it() {
    let shop = Shop::open();
    let unit = address(&shop, "3304");
    let form = Form::open(&shop, As::LeadHand, &format!("{unit}/edit"));
    assert_eq!(
        (
            form.get("number"),
            form.get("loop1_capacity"),
            form.get("loop1_capacity_unit")
        ),
        ("3304", "54", "L")
    );
    let facts = shop.facts();
    let edited = form.with_all(&[
        ("loop1_capacity", "56"),
        ("reason", "measured at the last fill"),
    ]);
    assert_eq!(edited.saved(&shop, As::LeadHand), unit);
    assert_eq!(edited.saved(&shop, As::LeadHand), unit, "sent twice");
    assert_eq!(shop.facts(), facts + 1);
    assert!(text(&shop.get(As::Reader, &unit).body).contains("Contents, of 56.0 L"));
    let (reason, by) = shop.read(async |read| {
        let id = unit.rsplit('/').next().unwrap().parse().unwrap();
        let row = read
            .find_previous_fact(id, "unit", i64::MAX)
            .await
            .unwrap()
            .unwrap();
        let fact = row.fact().unwrap();
        let domain::fact::What::Unit(card) = fact.what else {
            panic!("not a unit")
        };
        let digest = card.reason.unwrap();
        let text = read.find_text(digest.digest().unwrap()).await.unwrap();
        let person = read
            .find_person(fact.by.person.unwrap())
            .await
            .unwrap()
            .unwrap();
        (text.unwrap(), person.handle)
    });
    assert_eq!(
        (reason.as_str(), by.as_str()),
        ("measured at the last fill", "P8")
    );
    shop.book_is_closed();
}

#[test]
fn an_edit_without_a_reason_or_without_a_change_is_not_saved() {
    let shop = Shop::open();
    let form = Form::open(
        &shop,
        As::Manager,
        &format!("{}/edit", address(&shop, "3304")),
    );
    let said = form
        .with("loop1_capacity", "56")
        .refused(&shop, As::Manager);
    assert_eq!(
        said,
        ["Why is it changed? Nothing was typed here, and it is needed."]
    );
    let said = form.with("reason", "because").refused(&shop, As::Manager);
    assert_eq!(
        said,
        ["Form: Nothing on it differs from what is on record; change something, or go back."]
    );
    let said = form
        .with_all(&[("number", "3305"), ("reason", "repainted")])
        .refused(&shop, As::Manager);
    assert_eq!(
        said,
        ["Unit number: Unit 3305 is on record and in use; open it, or type another number."]
    );
}

#[test]
fn rows_for_loops_come_one_by_one_and_what_was_typed_stays() {
    let shop = Shop::open();
    let mut form = filled(&shop, "4204");
    for rows in 2..=6_usize {
        let answer = form.with("add_loop", "yes").send(&shop, As::Manager);
        assert_eq!(answer.status, 200, "{}", answer.body);
        let next = Form::on("/units/new", &answer);
        assert_eq!(next.get("loops"), rows.to_string());
        assert_eq!(next.get("loop1_capacity"), "72");
        assert_eq!(answer.body.contains("name=\"add_loop\""), rows < 6);
        form = next.with_all(&[
            (&format!("loop{rows}_name"), &format!("loop {rows}")),
            (&format!("loop{rows}_base"), "PG"),
            (&format!("loop{rows}_class"), "unknown"),
        ]);
    }
    let said = form
        .with("loop6_name", "Loop  5")
        .refused(&shop, As::Manager);
    assert_eq!(
        said,
        ["Loop 6: name: Two loops are called \"loop 5\"; give each a name of its own."]
    );
    let unit = form.saved(&shop, As::Manager);
    let page = text(&shop.get(As::Manager, &unit).body);
    assert!(
        page.contains("Loop: loop 6") && page.contains("Contents, capacity not known"),
        "{page}"
    );
    shop.book_is_closed();
}

#[test]
fn a_loop_that_held_coolant_is_retired_when_it_is_taken_off() {
    let shop = Shop::open();
    let unit = address(&shop, "2201");
    let edit = format!("{unit}/edit");
    let form = Form::open(&shop, As::HarbourManager, &edit);
    let row = (1..=3)
        .find(|row| form.get(&format!("loop{row}_name")) == "cabin")
        .unwrap();
    let all_gone = form.with_all(&[
        ("loop1_gone", "yes"),
        ("loop2_gone", "yes"),
        ("loop3_gone", "yes"),
        ("reason", "x"),
    ]);
    let said = all_gone.refused(&shop, As::HarbourManager);
    assert_eq!(
        said,
        [
            "Loop 1: name: A unit has at least one loop; to take the whole unit out of use, retire it."
        ]
    );
    let facts = shop.facts();
    let off = form.with_all(&[
        (&format!("loop{row}_gone"), "yes"),
        ("reason", "heater removed"),
    ]);
    off.saved(&shop, As::HarbourManager);
    off.saved(&shop, As::HarbourManager);
    assert_eq!(
        shop.facts(),
        facts + 2,
        "the card and the retired loop, once"
    );
    let page = text(&shop.get(As::Reader, &unit).body);
    assert!(
        page.contains("Loop: battery") && !page.contains("Loop: cabin"),
        "{page}"
    );
    // A loop of the same name that is fitted later is another place.
    let again = Form::open(&shop, As::HarbourManager, &edit).with_all(&[
        ("loop3_name", "cabin"),
        ("loop3_base", "EG"),
        ("loop3_class", "OAT"),
        ("loop3_capacity", "28"),
        ("loop3_opening", "50"),
        ("reason", "a new heater"),
    ]);
    again.saved(&shop, As::HarbourManager);
    let page = text(&shop.get(As::Reader, &unit).body);
    assert!(
        page.contains("Loop: cabin") && page.contains("Contents, of 28.0 L 28.0 L"),
        "{page}"
    );
    shop.book_is_closed();
}

#[test]
fn a_card_is_changed_by_those_who_may_and_in_their_own_shop() {
    let shop = Shop::open();
    let unit = address(&shop, "3304");
    for (who, path, status) in [
        (As::Technician, format!("{unit}/edit"), 403),
        (As::Officer, format!("{unit}/edit"), 403),
        (As::Reader, format!("{unit}/edit"), 403),
        (As::Administrator, format!("{unit}/edit"), 403),
        (As::LeadHand, format!("{unit}/retire"), 403),
        (As::LeadHand, "/units/new".to_owned(), 403),
        (As::HarbourManager, format!("{unit}/edit"), 404),
        (As::HarbourManager, format!("{unit}/retire"), 404),
        (As::Nobody, format!("{unit}/edit"), 303),
    ] {
        assert_eq!(shop.get(who, &path).status, status, "{who:?} {path}");
        let facts = shop.facts();
        let fields = [("number", "1"), ("reason", "x"), ("based_on", "1")];
        let sent = shop.post(who, &path, &fields).status;
        // A form of somebody who is not signed on waits on the sign-on page.
        let expected = if who == As::Nobody { 401 } else { status };
        assert_eq!(sent, expected, "{who:?} {path}");
        assert_eq!(shop.facts(), facts);
    }
}

#[test]
fn what_cannot_be_read_is_named_at_its_field_and_nothing_is_saved() {
    let shop = Shop::open();
    let form = Form::open(
        &shop,
        As::Manager,
        &format!("{}/edit", address(&shop, "3304")),
    )
    .with_all(&[("loop1_capacity", "57"), ("reason", "measured")]);
    let quantities = [
        "loop1_capacity",
        "loop1_target",
        "loop1_cap_rating",
        "loop1_lowest_part",
        "loop1_air_space",
    ];
    let decimals = format!("0.{}1", "0".repeat(39));
    for name in quantities {
        for bad in [
            "a few",
            "NaN",
            "inf",
            "-5",
            "0",
            "1000000000000000000",
            &decimals,
            "5\u{0}",
            "5 \u{FFFD}",
            "5 miles",
        ] {
            let said = form.with(name, bad).refused(&shop, As::Manager);
            assert_eq!(said.len(), 1, "{name} {bad}: {said:?}");
            assert!(said[0].starts_with("Loop 1: "), "{said:?}");
        }
    }
    let longest = "x".repeat(101);
    for name in ["number", "kind", "loop1_name"] {
        for bad in ["", "a\u{0}b", "a\u{FFFD}", "a\u{202E}b", "a\nb", &longest] {
            let said = form.with(name, bad).refused(&shop, As::Manager);
            assert_eq!(said.len(), 1, "{name} {bad:?}: {said:?}");
        }
    }
    for (name, bad) in [
        ("loop1_coupling", "yesterday"),
        ("loop1_coupling", "2026-13-01"),
        ("loop1_coupling", "2026-10-06"),
        ("loop1_coupling", "0026-10-01"),
    ] {
        let said = form.with(name, bad).refused(&shop, As::Manager);
        assert_eq!(said.len(), 1, "{name} {bad}: {said:?}");
    }
    for name in form.names() {
        // A megabyte in any field at all.
        let facts = shop.facts();
        let answer = form
            .with(&name, &"x".repeat(1_000_000))
            .send(&shop, As::Manager);
        assert!(
            [422, 400].contains(&answer.status),
            "{name}: {}",
            answer.status
        );
        assert_eq!(shop.facts(), facts);
    }
    assert_eq!(
        form.with("reason", &"x".repeat(2 * 1024 * 1024))
            .send(&shop, As::Manager)
            .status,
        413
    );
    let said = problems(&form.with("role", "manager").send(&shop, As::Manager).body);
    assert_eq!(
        said,
        ["Form: The form has no field \"role\"; open the page anew."]
    );
    shop.book_is_closed();
}
