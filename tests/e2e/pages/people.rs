//! People: cards, roles, PINs, badges and passwords, and how somebody leaves.

use super::browser::{Browser, hidden};
use super::form::{Form, problems, text};
use super::shop::{As, Shop};
use crate::client::Answer;

fn address(shop: &Shop, handle: &str) -> String {
    let id = shop.read(async |read| {
        let person = read.find_person_by_handle(handle).await.unwrap();
        person.unwrap().id
    });
    format!("/people/{id}")
}

/// The secret that a page shows this once.
fn shown_once(answer: &Answer) -> String {
    assert_eq!(answer.status, 200, "{}", answer.body);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    let rest = answer.body.split("class=\"once\"").nth(1).unwrap();
    let rest = rest.split("<strong>").nth(1).unwrap();
    rest.split('<').next().unwrap().to_owned()
}

/// A tablet of the upper yard that nobody has used yet.
fn tablet(shop: &Shop) -> Browser {
    let browser = shop.browser();
    browser.enrol(&shop.tablet_link("Upper Yard"));
    browser
}

fn new_technician(shop: &Shop, handle: &str) -> String {
    Form::open(shop, As::Manager, "/people/new")
        .with_all(&[
            ("handle", handle),
            ("name", "Ottoline Marchbank (invented)"),
            ("roles[]", "technician"),
        ])
        .saved(shop, As::Manager)
}

#[test]
fn somebody_new_is_given_a_pin_that_is_shown_once_and_works_at_a_tablet() {
    let shop = Shop::open();
    let facts = shop.facts();
    let person = new_technician(&shop, "P40");
    assert_eq!(shop.facts(), facts + 2, "the card and the roles");
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("P40 Ottoline Marchbank (invented)"), "{page}");
    assert!(page.contains("Roles technician"), "{page}");

    let pin = shown_once(&shop.post(As::Manager, &format!("{person}/pin"), &[]));
    assert_eq!(pin.len(), 6);
    assert!(!shop.get(As::Manager, &person).body.contains(&pin));
    let device = tablet(&shop);
    let answer = device.sign_on_by_pin("P40", &pin);
    assert_eq!(answer.status, 303, "{}", answer.body);
    let board = text(&device.get("/").body);
    assert!(
        board.contains("P40 Ottoline Marchbank (invented), technician"),
        "{board}"
    );

    // A newer one takes its place.
    let newer = shown_once(&shop.post(As::LeadHand, &format!("{person}/pin"), &[]));
    let device = tablet(&shop);
    assert_eq!(device.sign_on_by_pin("P40", &newer).status, 303);
    if newer != pin {
        assert_eq!(tablet(&shop).sign_on_by_pin("P40", &pin).status, 422);
    }
    shop.book_is_closed();
}

#[test]
fn a_badge_holds_a_code_and_no_name_and_signs_its_owner_on() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let answer = shop.post(As::Manager, &format!("{person}/badge"), &[]);
    assert_eq!(answer.status, 200, "{}", answer.body);
    let badge = answer.body.split("class=\"badge\"").nth(1).unwrap();
    let badge = badge.split("</div>").next().unwrap();
    assert!(badge.contains("<svg class=\"qr\""));
    assert!(!badge.contains("Durnhollow"), "no full name: {badge}");
    let code = badge.split("<small>").nth(1).unwrap();
    let code = code.split('<').next().unwrap();
    let device = tablet(&shop);
    let on = device.post("/sign-on", &[("badge", code)]);
    assert_eq!(on.status, 303, "{}", on.body);
    assert!(text(&device.get("/").body).contains("P3 Cessa Durnhollow"));
    // The one that was issued before opens nothing.
    let before = shop.secret(As::Technician, "badge").unwrap();
    shop.post(As::Manager, &format!("{}/badge", address(&shop, "P1")), &[]);
    assert_eq!(
        tablet(&shop).post("/sign-on", &[("badge", &before)]).status,
        422
    );
}

#[test]
fn a_password_that_was_issued_is_changed_by_its_owner() {
    let shop = Shop::open();
    let person = Form::open(&shop, As::Manager, "/people/new")
        .with_all(&[
            ("handle", "P41"),
            ("name", "Perpetua Hollin (invented)"),
            ("roles[]", "manager"),
        ])
        .saved(&shop, As::Manager);
    let password = shown_once(&shop.post(As::Manager, &format!("{person}/password"), &[]));
    let browser = shop.browser();
    assert_eq!(browser.sign_on_by_password("P41", &password).status, 303);
    // Whoever issued it knows it: nothing else is done before another one was chosen.
    for path in ["/", "/people", "/vessels/new"] {
        let answer = browser.get(path);
        assert_eq!(answer.header("location"), Some("/own-password"), "{path}");
    }
    let facts = shop.facts();
    let added = [("handle", "P60"), ("name", "x"), ("roles[]", "manager")];
    assert_eq!(browser.post("/people/new", &added).status, 303);
    assert_eq!(shop.facts(), facts);
    assert!(text(&browser.get("/own-password").body).contains("Choose your own password first."));
    let own = "violet trams hum at noon";
    let change = |now: &str, new: &str, again: &str| {
        browser.post(
            "/own-password",
            &[
                ("password", now),
                ("new_password", new),
                ("new_password_again", again),
            ],
        )
    };
    for (now, new, again, problem) in [
        ("", own, own, "nothing was typed here"),
        ("not it at all, sorry", own, own, "not the right password"),
        (&password, "short", "short", "fewer than the 15"),
        (&password, own, "violet trams hum at noo", "not the same"),
        (
            &password,
            "P41 P41 P41 P41 P41",
            "P41 P41 P41 P41 P41",
            "password",
        ),
    ] {
        let answer = change(now, new, again);
        assert_eq!(answer.status, 422, "{new}");
        let said = problems(&answer.body).join(" ").to_lowercase();
        assert!(said.contains(problem), "{problem}: {said}");
        assert!(!answer.body.contains(own), "what was typed is not put back");
    }
    assert_eq!(change(&password, own, own).status, 200);
    assert_eq!(browser.get("/people").status, 303, "signed off");
    assert_eq!(browser.sign_on_by_password("P41", &password).status, 422);
    assert_eq!(browser.sign_on_by_password("P41", own).status, 303);
    shop.book_is_closed();
}

#[test]
fn roles_count_from_the_next_click_and_nobody_changes_their_own() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let form = Form::open(&shop, As::Manager, &format!("{person}/roles"));
    assert_eq!(form.get("roles[]"), "technician");
    let mut more = form.clone();
    more.fields
        .push(("roles[]".to_owned(), "lead_hand".to_owned()));
    let facts = shop.facts();
    more.saved(&shop, As::Manager);
    assert_eq!(more.saved(&shop, As::Manager), person, "sent twice");
    assert_eq!(shop.facts(), facts + 1);
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("Roles technician, lead hand"), "{page}");

    let own = address(&shop, "P10");
    let answer = shop.get(As::Manager, &format!("{own}/roles"));
    assert_eq!(answer.status, 422);
    assert!(text(&answer.body).contains("Nobody changes what they may do themselves"));
    // Somebody else took them meanwhile: both are shown.
    let mut late = form.clone();
    late.fields
        .push(("roles[]".to_owned(), "reader".to_owned()));
    let answer = late.send(&shop, As::Manager);
    assert_eq!(answer.status, 422);
    let said = text(&answer.body);
    assert!(said.contains("Changed meanwhile by P10"), "{said}");
    assert!(
        said.contains("What may they do? technician, lead hand technician, reader"),
        "{said}"
    );
    assert_eq!(shop.facts(), facts + 1);
    shop.book_is_closed();
}

#[test]
fn a_password_that_was_issued_does_not_grow_with_its_owners_roles() {
    let shop = Shop::open();
    let person = new_technician(&shop, "P45");
    let password = shown_once(&shop.post(As::Manager, &format!("{person}/password"), &[]));
    let manager = shop.browser();
    assert_eq!(manager.sign_on_by_password("P45", &password).status, 303);
    let mut raised = Form::open(&shop, As::Administrator, &format!("{person}/roles"));
    raised
        .fields
        .push(("roles[]".to_owned(), "administrator".to_owned()));
    raised.saved(&shop, As::Administrator);
    assert!(
        manager.get("/own-password").header("location").is_some(),
        "signed off"
    );
    assert_eq!(manager.sign_on_by_password("P45", &password).status, 422);
    // And from then on a manager issues nothing to them.
    let answer = shop.post(As::Manager, &format!("{person}/password"), &[]);
    assert_eq!(answer.status, 403);
    let noted = text(&shop.get(As::Administrator, "/security").body);
    assert!(
        noted.contains("asked for what they may not do P10"),
        "{noted}"
    );
    shop.book_is_closed();
}

#[test]
fn a_lost_badge_or_pin_signs_off_whoever_found_it() {
    let shop = Shop::open();
    let person = address(&shop, "P1");
    for secret in ["pin", "badge"] {
        let found = shop.secret(As::Technician, secret).unwrap();
        let device = tablet(&shop);
        let answer = if secret == "pin" {
            device.sign_on_by_pin("P1", &found)
        } else {
            device.post("/sign-on", &[("badge", &found)])
        };
        assert_eq!(answer.status, 303, "{secret}");
        assert_eq!(device.get("/units").status, 200);
        shop.post(As::Manager, &format!("{person}/{secret}"), &[]);
        assert_eq!(
            device.get("/units").status,
            303,
            "{secret}: to the sign-on page"
        );
    }
}

#[test]
fn a_card_of_somebody_without_roles_can_be_changed_after_they_got_some() {
    let shop = Shop::open();
    let person = Form::open(&shop, As::Manager, "/people/new")
        .with_all(&[("handle", "P46"), ("name", "Wren Halloway (invented)")])
        .saved(&shop, As::Manager);
    let mut roles = Form::open(&shop, As::Manager, &format!("{person}/roles"));
    roles
        .fields
        .push(("roles[]".to_owned(), "reader".to_owned()));
    roles.saved(&shop, As::Manager);
    Form::open(&shop, As::Manager, &format!("{person}/edit"))
        .with("name", "Wren Halloway-Pike (invented)")
        .saved(&shop, As::Manager);
    let said = text(&shop.get(As::Manager, &person).body);
    assert!(
        said.contains("Halloway-Pike") && said.contains("Roles reader"),
        "{said}"
    );
    shop.book_is_closed();
}

#[test]
fn whoever_leaves_stays_away_from_a_card_that_was_open_meanwhile() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let edit =
        Form::open(&shop, As::Administrator, &format!("{person}/edit")).with("handle", "P33");
    assert_eq!(
        shop.post(As::Manager, &format!("{person}/leave"), &[])
            .status,
        303
    );
    let answer = edit.send(&shop, As::Administrator);
    assert_eq!(answer.status, 422, "{}", answer.body);
    assert!(text(&shop.get(As::Manager, &person).body).contains("Left on 2026-10-05."));
    // The name of the role somebody acted in is the one that may.
    let records = text(&shop.get(As::Officer, "/records").body);
    assert!(records.contains("P10"), "{records}");
    shop.book_is_closed();
}

#[test]
fn nobody_hands_out_more_than_they_could_hold() {
    let shop = Shop::open();
    let facts = shop.facts();
    let refused = |who: As, path: &str| {
        let answer = shop.post(who, path, &[]);
        assert_eq!(answer.status, 403, "{who:?} {path}: {}", answer.body);
    };
    let technician = address(&shop, "P3");
    let lead_hand = address(&shop, "P8");
    let administrator = address(&shop, "P13");
    let officer = address(&shop, "P12");
    // A lead hand issues PINs to technicians and nothing more.
    refused(As::LeadHand, &format!("{technician}/badge"));
    refused(As::LeadHand, &format!("{lead_hand}/pin"));
    refused(As::Technician, &format!("{technician}/pin"));
    for secret in ["pin", "badge", "password"] {
        refused(As::Manager, &format!("{officer}/{secret}"));
        refused(As::Manager, &format!("{administrator}/{secret}"));
    }
    // Another yard's people are not there.
    let harbour = address(&shop, "P4");
    assert_eq!(
        shop.post(As::Manager, &format!("{harbour}/pin"), &[])
            .status,
        404
    );
    assert_eq!(shop.get(As::Manager, &harbour).status, 404);
    assert_eq!(shop.get(As::Administrator, &harbour).status, 200);
    // The administrator of the server gives any role, a manager not that one.
    let form = Form::open(&shop, As::Manager, "/people/new").with_all(&[
        ("handle", "P42"),
        ("name", "Quill Ashdown (invented)"),
        ("roles[]", "administrator"),
    ]);
    let said = problems(&form.send(&shop, As::Manager).body);
    assert_eq!(
        said,
        [
            "What may they do? \"administrator\" is not one of the answers offered; choose among them."
        ]
    );
    assert_eq!(shop.facts(), facts);
    shop.book_is_closed();
}

#[test]
fn whoever_leaves_is_signed_off_at_once_and_their_name_can_go() {
    let shop = Shop::open();
    let person = address(&shop, "P2");
    assert_eq!(shop.get(As::OtherTechnician, "/").status, 200);
    let answer = shop.post(As::Manager, &format!("{person}/remove-name"), &[]);
    assert_eq!(answer.status, 422, "only once they left");
    let facts = shop.facts();
    let leave = format!("{person}/leave");
    assert_eq!(shop.get(As::Manager, &leave).status, 200);
    for _ in 0..2 {
        assert_eq!(shop.post(As::Manager, &leave, &[]).status, 303);
    }
    assert_eq!(shop.facts(), facts + 1);
    assert_eq!(
        shop.get(As::OtherTechnician, "/").status,
        303,
        "to the sign-on page"
    );
    let badge = shop.secret(As::OtherTechnician, "badge").unwrap();
    let device = tablet(&shop);
    assert_eq!(device.post("/sign-on", &[("badge", &badge)]).status, 422);
    assert!(
        !device
            .get("/sign-on?all=yes")
            .body
            .contains("<strong>P2</strong>")
    );
    let answer = shop.post(As::Manager, &format!("{person}/pin"), &[]);
    assert_eq!(answer.status, 422);

    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("P2 Brann Oskerly (invented)"), "{page}");
    assert_eq!(
        shop.post(As::Manager, &format!("{person}/remove-name"), &[])
            .status,
        303
    );
    for path in [person.as_str(), "/people", "/records"] {
        let page = shop.get(
            if path == "/records" {
                As::Officer
            } else {
                As::Manager
            },
            path,
        );
        assert!(!page.body.contains("Oskerly"), "{path}");
    }
    assert!(text(&shop.get(As::Officer, "/records").body).contains("P2"));
    shop.book_is_closed();
}

#[test]
fn what_cannot_be_a_person_is_named_at_its_field() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Manager, "/people/new")
        .with_all(&[("handle", "P43"), ("name", "Rowan Tegg (invented)")]);
    let long = "x".repeat(101);
    let longest = "x".repeat(1_000_000);
    for (field, value, problem) in [
        ("handle", "", "it is needed"),
        ("handle", "P3", "somebody who works here"),
        ("handle", "p3", "somebody who works here"),
        ("handle", "p13", "somebody who works here"),
        ("handle", "thirteen chars", "fit on a tile"),
        ("handle", "P\u{200B}9", "U+200B"),
        ("handle", "P9\0", "U+0000"),
        ("name", "", "it is needed"),
        ("name", long.as_str(), "101 characters"),
        ("key", "no-key", "Form"),
    ] {
        let said = form.with(field, value).refused(&shop, As::Manager);
        assert!(
            said.iter().any(|said| said.contains(problem)),
            "{field} {value:?}: {said:?}"
        );
    }
    for (field, value) in [("name", longest.as_str()), ("roles[]", "wizard")] {
        let answer = form.with(field, value).send(&shop, As::Manager);
        assert_eq!(answer.status, 422, "{field}");
    }
    let first = form.saved(&shop, As::Manager);
    assert_eq!(form.saved(&shop, As::Manager), first, "sent twice");
    let other = form.with("handle", "P44").send(&shop, As::Manager);
    assert_eq!(other.status, 422, "the same form with other values");
    shop.book_is_closed();
}

#[test]
fn a_card_that_somebody_else_changed_is_not_put_over_unseen() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let edit = format!("{person}/edit");
    let first = Form::open(&shop, As::Administrator, &edit).with("handle", "P33");
    let second = Form::open(&shop, As::Manager, &edit).with("name", "Cessa Vane (invented)");
    first.saved(&shop, As::Administrator);
    let facts = shop.facts();
    let answer = second.send(&shop, As::Manager);
    assert_eq!((answer.status, shop.facts()), (422, facts));
    let said = text(&answer.body);
    assert!(said.contains("Changed meanwhile by P13"), "{said}");
    assert!(said.contains("Short name P33 P3"), "{said}");
    Form::on(&edit, &answer)
        .with("handle", "P33")
        .saved(&shop, As::Manager);
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("P33 Cessa Vane (invented)"), "{page}");
    shop.book_is_closed();
}

#[test]
fn somebody_another_program_told_of_is_given_roles_and_a_card_of_their_own() {
    let shop = Shop::open();
    let job = r#"{"key": "5f0c1d6e-3a57-4c1e-9a2f-0d4a4f6f9b11", "when": "2026-10-05 06:40", "kind": "top_up",
        "unit": "3304", "from": "D-1", "volume": "0.5 L", "at_mark": "yes", "who": "P50"}"#;
    let sent = shop.browser().send(
        ("POST", "/api/v1/jobs"),
        &[("Content-Type", "application/json")],
        job,
    );
    assert!(sent.status == 201 || sent.status == 202, "{}", sent.body);
    let person = address(&shop, "P50");
    let list = text(&shop.get(As::Manager, "/people").body);
    assert!(
        list.contains("P50 none None None None not known"),
        "no name was ever given, so none was removed: {list}"
    );
    // Card and roles stand on the same event now; neither change keeps the other from being made.
    let card = Form::open(&shop, As::Manager, &format!("{person}/edit"))
        .with("name", "Wystan Orrell (invented)");
    let roles = Form::open(&shop, As::Manager, &format!("{person}/roles"));
    assert_eq!(roles.get("roles[]"), "", "nothing is ticked");
    roles
        .with("roles[]", "technician")
        .saved(&shop, As::Manager);
    card.saved(&shop, As::Manager);
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("P50 Wystan Orrell (invented)"), "{page}");
    assert!(
        page.contains("Roles technician, since 2026-10-05"),
        "{page}"
    );
    let pin = shown_once(&shop.post(As::Manager, &format!("{person}/pin"), &[]));
    assert_eq!(tablet(&shop).sign_on_by_pin("P50", &pin).status, 303);
    shop.book_is_closed();
}

#[test]
fn whoever_takes_every_role_away_sees_none_ticked_when_they_were_overtaken() {
    let shop = Shop::open();
    let path = format!("{}/roles", address(&shop, "P3"));
    let form = Form::open(&shop, As::Manager, &path);
    form.with("roles[]", "lead_hand")
        .saved(&shop, As::Administrator);
    let mut none = form.clone();
    none.fields.retain(|(name, _)| name != "roles[]");
    let answer = none.send(&shop, As::Manager);
    assert_eq!(answer.status, 422);
    let said = text(&answer.body);
    assert!(said.contains("Changed meanwhile by P13"), "{said}");
    let again = Form::on(&path, &answer);
    assert_eq!(again.get("roles[]"), "", "none is ticked by itself");
    let person = again.saved(&shop, As::Manager);
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("Roles none"), "{page}");
    shop.book_is_closed();
}

#[test]
fn the_list_says_since_when_how_lately_and_whose_pin_no_longer_works() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let row = |handle: &str| {
        let page = shop.get(As::Manager, "/people").body;
        let row = page.split(&format!(">{handle}</a>")).nth(1).unwrap();
        text(row.split("</tr>").next().unwrap())
    };
    assert!(
        row("P3").contains("technician since 2025-04-01"),
        "{}",
        row("P3")
    );
    assert!(
        row("P3").ends_with("Works Works None not known"),
        "{}",
        row("P3")
    );
    let device = tablet(&shop);
    let wrong = shown_once(&shop.post(As::Manager, &format!("{person}/pin"), &[]));
    let right = shown_once(&shop.post(As::Manager, &format!("{person}/pin"), &[]));
    if wrong == right {
        return;
    }
    for status in [422, 422, 422, 422, 429] {
        assert_eq!(device.sign_on_by_pin("P3", &wrong).status, status);
    }
    assert!(row("P3").contains("Waits until "), "{}", row("P3"));
    let page = text(&shop.get(As::LeadHand, &person).body);
    assert!(page.contains("PIN Waits until "), "{page}");
    let newer = shown_once(&shop.post(As::LeadHand, &format!("{person}/pin"), &[]));
    assert_eq!(device.sign_on_by_pin("P3", &newer).status, 303);
    let lately = row("P3");
    assert!(lately.contains("Works Works None 20"), "{lately}");
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("Last used 20"), "{page}");
    shop.book_is_closed();
}

#[test]
fn everything_here_wants_a_proof_again_and_goes_on_with_what_was_typed() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let facts = shop.facts();
    let new = Form::open(&shop, As::Manager, "/people/new").with_all(&[
        ("handle", "P45"),
        ("name", "Sunniva Crale (invented)"),
        ("roles[]", "technician"),
    ]);
    let forms = [
        new.clone(),
        Form::open(&shop, As::Manager, &format!("{person}/edit")).with("handle", "P46"),
        Form::open(&shop, As::Manager, &format!("{person}/roles")).with("roles[]", "reader"),
        Form::open(&shop, As::Manager, &format!("{person}/leave")),
    ];
    shop.let_the_proof_lapse(As::Manager);
    for form in &forms {
        let asked = form.send(&shop, As::Manager);
        assert_eq!(asked.status, 401, "{}: {}", form.path, asked.body);
        for (name, value) in &form.fields {
            let kept = hidden(&asked.body, &format!("kept:{name}"));
            assert_eq!(kept.as_deref(), Some(value.as_str()), "{}", form.path);
        }
    }
    for secret in ["pin", "badge", "password"] {
        let asked = shop.post(As::Manager, &format!("{person}/{secret}"), &[]);
        assert_eq!(asked.status, 401, "{secret}");
        assert!(!asked.body.contains("class=\"once\""), "{secret}");
    }
    assert_eq!(shop.facts(), facts, "nothing was done by any of it");
    let wrong = Form::on("/prove", &new.send(&shop, As::Manager))
        .with("password", "not the password of anybody")
        .send(&shop, As::Manager);
    assert_eq!(wrong.status, 422);
    assert!(!wrong.body.contains("not the password of anybody"));
    let password = shop.secret(As::Manager, "password").unwrap();
    let shown = Form::on("/prove", &wrong)
        .with("password", &password)
        .send(&shop, As::Manager);
    assert_eq!(shown.status, 200, "{}", shown.body);
    assert!(!shown.body.contains(&password));
    let person = Form::on("/people/new", &shown).saved(&shop, As::Manager);
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("P45 Sunniva Crale (invented)"), "{page}");
    assert!(page.contains("Roles technician"), "{page}");

    // A PIN is issued only after the proof, by whoever showed it.
    shop.let_the_proof_lapse(As::LeadHand);
    let pin = format!("{person}/pin");
    let asked = shop.post(As::LeadHand, &pin, &[]);
    assert_eq!(asked.status, 401);
    let own = shop.secret(As::LeadHand, "pin").unwrap();
    let shown = Form::on("/prove", &asked)
        .with("pin", &own)
        .send(&shop, As::LeadHand);
    assert_eq!(shown.status, 200, "{}", shown.body);
    let issued = shown_once(&Form::on(&pin, &shown).send(&shop, As::LeadHand));
    assert_eq!(tablet(&shop).sign_on_by_pin("P45", &issued).status, 303);
    shop.book_is_closed();
}

#[test]
fn a_card_opened_before_somebody_left_does_not_bring_them_back() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let edit = Form::open(&shop, As::Administrator, &format!("{person}/edit"))
        .with("name", "Cessa Vane (invented)");
    let roles =
        Form::open(&shop, As::Administrator, &format!("{person}/roles")).with("roles[]", "manager");
    shop.post(As::Manager, &format!("{person}/leave"), &[]);
    let facts = shop.facts();
    for form in [edit, roles] {
        let answer = form.send(&shop, As::Administrator);
        assert_eq!(answer.status, 422, "{}", form.path);
        assert!(text(&answer.body).contains("P3 no longer works here"));
    }
    for secret in ["pin", "badge", "password"] {
        let answer = shop.post(As::Manager, &format!("{person}/{secret}"), &[]);
        assert_eq!(answer.status, 422, "{secret}");
    }
    assert_eq!(shop.facts(), facts);
    let page = text(&shop.get(As::Manager, &person).body);
    assert!(page.contains("Left on 2026-10-05."), "{page}");
    let list = text(&shop.get(As::Manager, "/people").body);
    assert!(
        list.contains("P3 Cessa Durnhollow (invented), Upper Yard (invented), left 2026-10-05"),
        "{list}"
    );
    shop.book_is_closed();
}

#[test]
fn what_cannot_be_read_on_a_form_about_somebody_is_named_and_nothing_is_done() {
    let shop = Shop::open();
    let person = address(&shop, "P3");
    let edit = Form::open(&shop, As::Manager, &format!("{person}/edit"));
    let roles = Form::open(&shop, As::Manager, &format!("{person}/roles"));
    let long = "n".repeat(101);
    for (form, field, value, problem) in [
        (&edit, "handle", "", "it is needed"),
        (&edit, "handle", " \t ", "it is needed"),
        (&edit, "handle", "P1", "somebody who works here"),
        (&edit, "handle", "thirteen chars", "fit on a tile"),
        (&edit, "handle", "P\u{202E}3", "U+202E"),
        (&edit, "name", "", "it is needed"),
        (&edit, "name", long.as_str(), "101 characters"),
        (&edit, "name", "a\0b", "U+0000"),
        (&edit, "based_on", "", "Form"),
        (&edit, "based_on", "-1", "Form"),
        (&edit, "based_on", "99999999999999999999", "Form"),
        (&edit, "based_on", "1,5", "Form"),
        (&edit, "active", "true", "active"),
        (&roles, "based_on", "", "Form"),
        (&roles, "based_on", "soon", "Form"),
        (&roles, "roles[]", "wizard", "not one of the answers"),
        (&roles, "roles[]", "administrator", "not one of the answers"),
        (&roles, "shop", "every", "shop"),
    ] {
        let facts = shop.facts();
        let answer = form.with(field, value).send(&shop, As::Manager);
        assert_eq!(answer.status, 422, "{} {field} {value:?}", form.path);
        assert_eq!(shop.facts(), facts, "{} {field} {value:?}", form.path);
        let said = problems(&answer.body);
        assert!(
            said.iter().any(|said| said.contains(problem)),
            "{} {field} {value:?}: {said:?}",
            form.path
        );
    }
    let facts = shop.facts();
    for button in ["pin", "badge", "password", "leave", "remove-name"] {
        let path = format!("{person}/{button}");
        let answer = shop.post(As::Manager, &path, &[("pin", "123456")]);
        assert_eq!(answer.status, 422, "{path}");
        assert!(!answer.body.contains("123456"), "{path}");
    }
    assert_eq!(shop.facts(), facts);
    let own = address(&shop, "P10");
    for path in ["leave", "roles"] {
        let answer = shop.post(As::Manager, &format!("{own}/{path}"), &[]);
        assert_eq!(answer.status, 422, "one's own {path}");
    }
    let answer = shop.post(As::Manager, &format!("{own}/password"), &[]);
    assert_eq!(answer.status, 422, "one's own password");
    shop.book_is_closed();
}
