//! Two people change one card at the same time: nothing is put over the other's change unseen.

use std::thread;

use super::address;
use crate::pages::browser::Browser;
use crate::pages::form::{Form, text};
use crate::pages::shop::{As, Shop};

#[test]
fn the_second_is_shown_what_the_first_one_did_and_may_save_on_top() {
    let shop = Shop::open();
    let unit = address(&shop, "3304");
    let edit = format!("{unit}/edit");
    let first = Form::open(&shop, As::LeadHand, &edit).with_all(&[
        ("loop1_capacity", "56"),
        ("reason", "measured <b>twice</b>"),
    ]);
    let second = Form::open(&shop, As::Manager, &edit)
        .with_all(&[("kind", "gritter"), ("reason", "as we call it")]);
    first.saved(&shop, As::LeadHand);

    let facts = shop.facts();
    let answer = second.send(&shop, As::Manager);
    assert_eq!(answer.status, 422);
    assert_eq!(shop.facts(), facts, "nothing is put over it");
    let said = text(&answer.body);
    assert!(
        said.contains("Changed meanwhile by P8 at 2026-10-05 07:"),
        "{said}"
    );
    assert!(
        said.contains("Their reason: measured <b>twice</b>"),
        "{said}"
    );
    assert!(said.contains("engine: capacity 56 L 54 L"), "{said}");
    assert!(said.contains("kind of unit snowplow gritter"), "{said}");

    let again = Form::on(&edit, &answer);
    assert_eq!(
        (
            again.get("kind"),
            again.get("loop1_capacity"),
            again.get("reason")
        ),
        ("gritter", "54", "as we call it")
    );
    again.with("loop1_capacity", "56").saved(&shop, As::Manager);
    let page = text(&shop.get(As::Reader, &unit).body);
    assert!(
        page.contains("Gritter,") && page.contains("Contents, of 56.0 L"),
        "{page}"
    );
    // The first form again is a repeat of what is on record, and undoes nothing.
    first.saved(&shop, As::LeadHand);
    assert!(text(&shop.get(As::Reader, &unit).body).contains("Gritter,"));
    shop.book_is_closed();
}

/// Sends each form in a browser of its own, all at once.
fn send_all(browsers: &mut [Browser], forms: &[Form]) -> Vec<u16> {
    thread::scope(|scope| {
        let sent: Vec<_> = forms
            .iter()
            .zip(browsers)
            .map(|(form, browser)| scope.spawn(move || send(browser, form)))
            .collect();
        sent.into_iter().map(|sent| sent.join().unwrap()).collect()
    })
}

fn send(browser: &Browser, form: &Form) -> u16 {
    let fields: Vec<(&str, &str)> = form
        .fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    browser.post(&form.path, &fields).status
}

#[test]
fn of_two_who_send_at_the_same_moment_one_is_saved_and_one_is_told() {
    let shop = Shop::open();
    let unit = address(&shop, "3305");
    let edit = format!("{unit}/edit");
    let mut browsers = [As::Manager, As::LeadHand].map(|who| shop.signed_on(who));
    for round in 0..5 {
        let capacities = [format!("{}", 50 + 2 * round), format!("{}", 51 + 2 * round)];
        let forms: Vec<Form> = capacities
            .iter()
            .map(|capacity| {
                Form::open(&shop, As::Manager, &edit)
                    .with_all(&[("loop1_capacity", capacity), ("reason", "measured")])
            })
            .collect();
        let facts = shop.facts();
        let statuses = send_all(&mut browsers, &forms);
        let mut sorted = statuses.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, [303, 422], "{statuses:?}");
        assert_eq!(shop.facts(), facts + 1);
    }
    shop.book_is_closed();
}

#[test]
fn of_two_who_give_one_number_at_the_same_moment_one_unit_comes_of_it() {
    let shop = Shop::open();
    let forms: Vec<Form> = ["transit bus", "snowplow"]
        .iter()
        .map(|kind| {
            Form::open(&shop, As::Manager, "/units/new").with_all(&[
                ("number", "4204"),
                ("kind", kind),
                ("loop1_base", "EG"),
                ("loop1_class", "OAT"),
            ])
        })
        .collect();
    let mut browsers = [As::Manager, As::Manager].map(|who| shop.signed_on(who));
    let facts = shop.facts();
    let statuses = send_all(&mut browsers, &forms);
    assert_eq!(shop.facts(), facts + 1);
    let first = statuses.iter().position(|status| *status == 303).unwrap();
    assert_eq!(statuses[1 - first], 422, "{statuses:?}");
    let kind = ["Transit bus", "Snowplow"][first];
    assert!(text(&shop.get(As::Reader, &address(&shop, "4204")).body).contains(kind));
    assert_eq!(forms[1 - first].refused(&shop, As::Manager).len(), 1);
    shop.book_is_closed();
}
