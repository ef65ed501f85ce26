//! What needs checking: both sides, who answers, and what the answer does.

use domain::quantity::rounding::{float, nearest};

use super::form::{Form, text};
use super::shop::{As, Shop};
use super::void::{job_row, sheet, top_up};

const TECHNICIAN: As = As::Technician;

/// The card of a job in the list, or its own page.
fn card<'a>(html: &'a str, job: &str) -> &'a str {
    let link = format!("<h2><a href=\"{job}\">");
    let card = html.split(&link).nth(1).unwrap();
    card.split("</section>").next().unwrap()
}

/// The form of the first question of a job, on the list or on its page.
fn form_on(html: &str, job: &str) -> Form {
    let key = job.rsplit('/').next().unwrap();
    let start = format!("<input type=\"hidden\" name=\"job\" value=\"{key}\">");
    let at = html.find(&start).unwrap();
    let rest = html[at..].split("</form>").next().unwrap();
    let mut fields = vec![("reason".to_owned(), String::new())];
    for name in ["job", "line", "kind", "back"] {
        fields.push((name.to_owned(), super::browser::hidden(rest, name).unwrap()));
    }
    Form {
        path: "/checking".to_owned(),
        fields,
    }
}

fn list(shop: &Shop, who: As) -> String {
    let answer = shop.get(who, "/checking");
    assert_eq!(answer.status, 200, "{}", answer.body);
    answer.body
}

fn count(shop: &Shop) -> i64 {
    shop.read(async |read| {
        let person = read.find_person_by_handle("P10").await.unwrap().unwrap();
        read.count_open_questions(person.shop).await.unwrap()
    })
}

/// A technician reads 5 % in unit 3301, which held 55.0 %; the address of the job.
fn odd_reading(shop: &Shop) -> String {
    Form::open(shop, TECHNICIAN, &sheet(shop, "3301", "condition_test"))
        .with("strength", "5")
        .saved(shop, TECHNICIAN)
}

fn strength(shop: &Shop) -> i64 {
    shop.read(async |read| {
        let unit = read.find_unit_by_number("3301").await.unwrap().unwrap();
        let held = read
            .find_place(unit.loops.first().unwrap().id)
            .await
            .unwrap();
        held.unwrap().fraction_millionths
    })
}

#[test]
fn both_sides_stand_with_their_numbers_and_accepting_settles_it_once() {
    let shop = Shop::open();
    let waiting = count(&shop);
    // 30 L out of a drum that held 20.5 L; the loop has no room for all of it either.
    let job = top_up(&shop, TECHNICIAN, "30");
    let asked = count(&shop) - waiting;
    assert!(asked >= 1);
    let html = list(&shop, As::LeadHand);
    let said = text(card(&html, &job));
    for part in [
        "30.0 L was taken out, the book held 20.5 L.",
        "As entered What the record says 30.0 L from D-1 to 3301 D-1 held 20.5 L just before",
        "Accept",
        "Correct the job",
        "Void the job",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(!said.contains("Reject"), "nothing waits for that answer");
    assert!(text(&html).contains(&format!("{} questions wait for an answer", waiting + asked)));

    let form =
        form_on(&html, &job).with_all(&[("decision", "accept"), ("reason", "drum was refilled")]);
    let facts = shop.facts();
    for _ in 0..2 {
        let back = form.saved(&shop, As::LeadHand);
        assert_eq!(back, format!("/checking?answered={}", facts + 1));
    }
    assert_eq!(shop.facts(), facts + 1, "sent twice, answered once");
    assert_eq!(count(&shop), waiting + asked - 1);
    let page = shop
        .get(As::LeadHand, &format!("/checking?answered={}", facts + 1))
        .body;
    assert!(text(&page).contains("Answer saved"), "{}", text(&page));
    let said = text(&shop.get(TECHNICIAN, &job).body);
    assert!(
        said.contains("Accepted by P8, Hesper Vaundry (invented)"),
        "{said}"
    );
    assert!(said.contains(": drum was refilled"), "{said}");
    shop.book_is_closed();
}

#[test]
fn a_reading_that_waits_counts_once_accepted_and_moves_nothing_once_rejected() {
    for (decision, reason) in [("accept", ""), ("reject", "strip was old")] {
        let shop = Shop::open();
        let before = strength(&shop);
        let job = odd_reading(&shop);
        assert_eq!(strength(&shop), before, "it waits");
        let html = list(&shop, As::Manager);
        let said = text(card(&html, &job));
        assert!(
            said.contains("The reading says 5.0 %, the book expected 5"),
            "{said}"
        );
        assert!(said.contains("Reject the reading"), "{said}");
        let form = form_on(&html, &job);
        if decision == "reject" {
            let facts = shop.facts();
            let answer = form.with("decision", "reject").send(&shop, As::Manager);
            assert_eq!(answer.status, 422);
            assert!(
                answer.body.contains("<title>Not saved: answer"),
                "{}",
                answer.body
            );
            assert!(text(&answer.body).contains("Not saved yet: 1 thing to put right"));
            assert!(
                text(&answer.body).contains("Reason: Nothing was typed here, and it is needed")
            );
            assert_eq!(shop.facts(), facts);
        }
        form.with_all(&[("decision", decision), ("reason", reason)])
            .saved(&shop, As::Manager);
        let counts = strength(&shop) != before;
        assert_eq!(counts, decision == "accept", "{before} {}", strength(&shop));
        let said = text(&shop.get(TECHNICIAN, &job).body);
        let verb = if counts {
            "Accepted by P10"
        } else {
            "Rejected by P10"
        };
        assert!(said.contains(verb), "{said}");
        shop.book_is_closed();
    }
}

#[test]
fn the_page_of_the_job_takes_the_answer_too_and_leads_back_to_it() {
    let shop = Shop::open();
    let job = odd_reading(&shop);
    let own = text(&shop.get(TECHNICIAN, &job).body);
    assert!(
        own.contains("It waits for an answer: a lead hand or the shop manager gives one."),
        "{own}"
    );
    let html = shop.get(As::Officer, &job).body;
    let back = form_on(&html, &job)
        .with("decision", "accept")
        .saved(&shop, As::Officer);
    assert_eq!(back, job);
    assert!(text(&shop.get(TECHNICIAN, &job).body).contains("Accepted by P12"));
    shop.book_is_closed();
}

#[test]
fn two_people_who_answer_at_the_same_time_do_not_overrule_one_another() {
    let shop = Shop::open();
    let job = odd_reading(&shop);
    let form = form_on(&list(&shop, As::Manager), &job);
    form.with("decision", "accept").saved(&shop, As::LeadHand);
    let facts = shop.facts();
    let hostile = "<img src=x onerror=alert(1)>";
    let late = form.with_all(&[("decision", "reject"), ("reason", hostile)]);
    let answer = late.send(&shop, As::Manager);
    assert_eq!(answer.status, 422);
    let said = text(&answer.body);
    assert!(said.contains("Not saved: answered meanwhile"), "{said}");
    assert!(said.contains("Accepted by P8"), "{said}");
    assert!(
        said.contains(&format!("You had typed: {hostile}")),
        "{said}"
    );
    assert!(!answer.body.contains("<img src=x"));
    assert_eq!(shop.facts(), facts);
    shop.book_is_closed();
}

#[test]
fn only_those_who_lead_answer_and_only_in_their_own_shop() {
    let shop = Shop::open();
    let job = odd_reading(&shop);
    let form = form_on(&list(&shop, As::Manager), &job).with("decision", "accept");
    let facts = shop.facts();
    for (who, status) in [
        (TECHNICIAN, 403),
        (As::Reader, 403),
        (As::Administrator, 403),
        (As::HarbourManager, 404),
    ] {
        assert_eq!(form.send(&shop, who).status, status, "{who:?}");
        let seen = shop.get(who, "/checking");
        assert_eq!(
            seen.status,
            if who == As::HarbourManager { 200 } else { 403 },
            "{who:?}"
        );
        assert!(!seen.body.contains(&job), "{who:?}");
    }
    assert_eq!(form.send(&shop, As::Nobody).status, 401);
    for (field, value, status) in [
        ("job", "00000000-0000-4000-8000-000000000001", 404),
        ("job", "words", 404),
        ("line", "7", 404),
        ("line", "-1", 404),
        ("line", "1000000000000000000", 404),
        ("kind", "no_such_kind", 404),
        ("decision", "", 422),
        ("decision", "perhaps", 422),
        ("reason", &"x".repeat(4_001), 422),
        ("reason", "a\0b", 422),
        ("reason", "a\u{FFFD}b", 422),
        ("shop", "slipped in", 422),
    ] {
        let answer = form.with(field, value).send(&shop, As::Manager);
        assert_eq!(
            answer.status,
            status,
            "{field} {value}: {}",
            text(&answer.body)
        );
    }
    assert_eq!(shop.facts(), facts);
    shop.book_is_closed();
}

#[test]
fn the_oldest_job_comes_first_and_one_persons_are_shown_alone() {
    let shop = Shop::open();
    let html = list(&shop, As::Manager);
    let jobs: Vec<String> = html
        .split("<h2><a href=\"")
        .skip(1)
        .map(|part| part.split('"').next().unwrap().to_owned())
        .filter(|address| address.starts_with("/jobs/"))
        .collect();
    assert!(jobs.len() >= 4, "{jobs:?}");
    let at: Vec<_> = jobs
        .iter()
        .map(|job| job_row(&shop, job).order.happened)
        .collect();
    assert!(at.is_sorted(), "{at:?}");

    let id = |handle: &str| {
        shop.read(async |read| {
            read.find_person_by_handle(handle)
                .await
                .unwrap()
                .unwrap()
                .id
        })
    };
    let of = |handle: &str| {
        text(
            &shop
                .get(As::Manager, &format!("/checking?person={}", id(handle)))
                .body,
        )
    };
    let whole = text(&html);
    assert!(
        whole.contains(", by P3") && whole.contains(", by P2"),
        "{whole}"
    );
    let own = of("P3");
    assert!(own.contains(", by P3") && !own.contains(", by P2"), "{own}");
    let none = of("P1");
    assert!(none.contains("Nothing to check here."), "{none}");
    for query in [
        "person=words",
        "after=x",
        "after=1.2.3",
        "answered=many",
        "person=%00",
    ] {
        assert_eq!(
            shop.get(As::Manager, &format!("/checking?{query}")).status,
            200,
            "{query}"
        );
    }
    shop.book_is_closed();
}

#[test]
fn more_than_a_page_of_questions_goes_on_where_it_ended() {
    let shop = Shop::open();
    // Nobody can draw so much out of one drum; each asks about it, and about the full loop.
    let drum = shop.read(async |read| read.find_vessel_by_name("D-1", None).await.unwrap());
    let drum = drum.unwrap().id.to_string();
    while count(&shop) <= 55 {
        Form::open(&shop, TECHNICIAN, &sheet(&shop, "3301", "top_up"))
            .with_all(&[
                ("source", &drum),
                ("volume", "25"),
                ("happened", "yes"),
                ("note", "nothing else was at hand"),
            ])
            .saved(&shop, TECHNICIAN);
    }
    let first = list(&shop, As::Manager);
    let next = first
        .split("<a class=\"plain\" href=\"/checking?after=")
        .nth(1)
        .unwrap();
    let next = format!("/checking?after={}", next.split('"').next().unwrap());
    let second = shop.get(As::Manager, &next).body;
    let asked = |html: &str| html.matches("<article class=\"question\"").count();
    assert_eq!(asked(&first), 50);
    assert_eq!(
        i64::try_from(asked(&first) + asked(&second)).unwrap(),
        count(&shop)
    );
    assert!(!second.contains("Later ones"));
    shop.book_is_closed();
}

/// The form on a card that leads somewhere, with its hidden fields.
fn form_to(html: &str, job: &str, path: &str) -> Form {
    let card = card(html, job);
    let form = card.split(&format!("action=\"{path}\"")).nth(1).unwrap();
    let form = form.split("</form>").next().unwrap();
    let fields = ["job", "line", "kind", "back", "said_before"];
    Form {
        path: path.to_owned(),
        fields: fields
            .iter()
            .map(|name| {
                let value = super::browser::hidden(form, name).unwrap();
                ((*name).to_owned(), value)
            })
            .collect(),
    }
}

fn own(shop: &Shop, who: As) -> String {
    let answer = shop.get(who, "/asked");
    assert_eq!(answer.status, 200, "{}", answer.body);
    answer.body
}

#[test]
fn whoever_did_the_job_is_asked_and_answers_in_words_and_the_question_stays_open() {
    let shop = Shop::open();
    let job = odd_reading(&shop);
    let open = count(&shop);
    assert!(own(&shop, TECHNICIAN).contains("Nothing is asked of you"));

    let ask = form_to(&list(&shop, As::LeadHand), &job, "/checking/ask");
    let empty = ask.with("ask", "  ").send(&shop, As::LeadHand);
    assert_eq!(empty.status, 422);
    assert!(text(&empty.body).contains("Nothing was typed here"));
    let question = "Was it 5 % or 55 %? <b>";
    let ask = ask.with("ask", question);
    let facts = shop.facts();
    for _ in 0..2 {
        assert_eq!(ask.send(&shop, As::LeadHand).status, 303);
    }
    assert_eq!(shop.facts(), facts + 1, "asked once");
    let other = ask.with("ask", "Something else?").send(&shop, As::LeadHand);
    assert_eq!(other.status, 422, "somebody asked meanwhile");
    assert!(text(&list(&shop, As::LeadHand)).contains("was asked and has not answered yet"));

    let board = text(&shop.get(TECHNICIAN, "/").body);
    assert!(board.contains("1 question is for you."), "{board}");
    let others = text(&shop.get(As::OtherTechnician, "/").body);
    assert!(!others.contains("for you"), "{others}");
    let page = own(&shop, TECHNICIAN);
    assert!(page.contains("Was it 5 % or 55 %? &#60;b&#62;"), "{page}");
    let answer = form_to(&page, &job, "/asked");
    assert_eq!(
        answer
            .with("words", "Not mine")
            .send(&shop, As::OtherTechnician)
            .status,
        422,
        "it was asked of another"
    );
    assert_eq!(answer.with("words", "").send(&shop, TECHNICIAN).status, 422);
    let answer = answer.with("words", "55, I slipped");
    for _ in 0..2 {
        assert_eq!(answer.send(&shop, TECHNICIAN).status, 303);
    }
    assert_eq!(shop.facts(), facts + 2);
    assert!(own(&shop, TECHNICIAN).contains("Nothing is asked of you"));
    let shown = text(card(&list(&shop, As::LeadHand), &job));
    assert!(shown.contains("55, I slipped"), "{shown}");
    assert!(!shown.contains("has not answered"), "{shown}");
    assert_eq!(count(&shop), open, "words decide nothing");
    let decided = form_on(&list(&shop, As::LeadHand), &job)
        .with("decision", "reject")
        .with("reason", "slipped");
    assert_eq!(decided.send(&shop, As::LeadHand).status, 303);
    assert_eq!(count(&shop), open - 1);
    shop.book_is_closed();
}

/// Two refractometer readings of one filling that disagree beyond the rule: nothing is proven, on the unit's
/// page, on the board and for the winter, until somebody who may settles it. Both readings stay.
#[test]
fn two_readings_that_disagree_leave_a_loop_not_proven_until_it_is_settled() {
    let shop = Shop::open();
    let unit = super::leaks::unit(&shop, "3301");
    let on_pages = |shop: &Shop| {
        let board = shop.get(As::Manager, "/").body;
        let winter = shop.get(As::Manager, "/winter").body;
        (
            text(&shop.get(As::Manager, &unit).body),
            super::leaks::row_of(&board, "3301"),
            super::leaks::row_of(&winter, "3301"),
        )
    };
    let read = |shop: &Shop, millionths: i64| {
        let typed = format!("{}.{}", millionths / 10_000, millionths % 10_000 / 1_000);
        Form::open(shop, TECHNICIAN, &sheet(shop, "3301", "condition_test"))
            .with("strength", &typed)
            .saved(shop, TECHNICIAN)
    };
    let held = |shop: &Shop| super::job::paper::contents(shop, "3301");
    read(&shop, held(&shop).fraction_millionths);
    let (before, board, winter) = on_pages(&shop);
    assert!(!before.contains("Not proven: a question"), "{before}");
    assert_eq!(board, None, "a loop that is ready is not on the board");
    assert!(
        winter.is_none_or(|row| row.contains("Ready")),
        "it is on the first page or not"
    );
    // 2.5 standard deviations of book and tool together, 0.5 points each way of a refractometer.
    let known = held(&shop);
    let both = float(known.sigma_millionths).hypot(5_000.0);
    let off = nearest(2.5 * both).unwrap();
    let second = read(&shop, known.fraction_millionths - off);
    let (after, board, winter) = on_pages(&shop);
    let why = "Not proven: a question about one of its jobs is open";
    assert!(after.contains(&format!("Check soon {why}")), "{after}");
    assert_eq!(after.matches("Read: strength ").count(), 2, "{after}");
    assert!(board.unwrap().contains(why));
    assert!(winter.unwrap().contains("In question"));
    // The second one counts by its weight: it lies between the two.
    let now = held(&shop).fraction_millionths;
    assert!(now < known.fraction_millionths, "{now}");
    assert!(now > known.fraction_millionths - off, "{now}");
    form_on(&list(&shop, As::Manager), &second)
        .with("decision", "accept")
        .saved(&shop, As::LeadHand);
    let (settled, board, _) = on_pages(&shop);
    assert!(!settled.contains(why), "{settled}");
    assert_eq!(board, None);
    assert_eq!(settled.matches("Read: strength ").count(), 2, "{settled}");
    shop.book_is_closed();
}
