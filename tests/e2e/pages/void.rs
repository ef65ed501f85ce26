//! One job on its page: undone, voided with a reason, corrected; and who may.

use domain::ids::FactKey;
use storage::JobRow;
use uuid::Uuid;

use super::browser::hidden;
use super::form::{Form, text};
use super::shop::{As, Shop};
use crate::client::Answer;

const TECHNICIAN: As = As::Technician;

/// The address of a unit's sheet.
pub(crate) fn sheet(shop: &Shop, unit: &str, kind: &str) -> String {
    let unit = shop.read(async |read| read.find_unit_by_number(unit).await.unwrap());
    format!("/units/{}/jobs/{kind}", unit.unwrap().id)
}

/// Somebody tops unit 3301 up out of drum D-1, which holds 20.5 L; the address of the job.
pub(crate) fn top_up(shop: &Shop, who: As, volume: &str) -> String {
    let drum = shop.read(async |read| read.find_vessel_by_name("D-1", None).await.unwrap());
    Form::open(shop, who, &sheet(shop, "3301", "top_up"))
        .with_all(&[
            ("source", &drum.unwrap().id.to_string()),
            ("volume", volume),
        ])
        .saved(shop, who)
}

fn held_by_drum(shop: &Shop) -> i64 {
    shop.read(async |read| {
        let drum = read
            .find_vessel_by_name("D-1", None)
            .await
            .unwrap()
            .unwrap();
        read.find_place(drum.id).await.unwrap().unwrap().shown_ml
    })
}

pub(crate) fn job_row(shop: &Shop, address: &str) -> JobRow {
    let key = address.rsplit('/').next().unwrap();
    let key = FactKey(Uuid::parse_str(key).unwrap());
    shop.read(async |read| read.find_job(key).await.unwrap().unwrap())
}

fn page(shop: &Shop, who: As, address: &str) -> String {
    let answer = shop.get(who, address);
    assert_eq!(answer.status, 200, "{address}: {}", answer.body);
    text(&answer.body)
}

/// A job of the upper yard that was entered on an earlier day and counts.
fn earlier_job(shop: &Shop, handle: &str) -> String {
    let jobs = shop.read(async |read| {
        let person = read.find_person_by_handle("P10").await.unwrap().unwrap();
        read.list_jobs_of_shop(person.shop.unwrap(), None, 100)
            .await
            .unwrap()
    });
    let is_meant = |job: &&JobRow| {
        job.person_handle.as_deref() == Some(handle)
            && job.standing == "posted"
            && job.kind == "top_up"
            && job.local_date.as_str() < "2026-10-05"
    };
    format!("/jobs/{}", jobs.iter().find(is_meant).unwrap().order.key)
}

#[test]
fn a_job_says_what_was_recorded_and_what_followed_as_typed_and_as_read() {
    let shop = Shop::open();
    let drum = shop.read(async |read| read.find_vessel_by_name("D-1", None).await.unwrap());
    let job = Form::open(&shop, TECHNICIAN, &sheet(&shop, "3301", "top_up"))
        .with_all(&[
            ("source", &drum.unwrap().id.to_string()),
            ("volume", "2"),
            ("volume_unit", "US gal"),
            ("note", "slow <b>leak</b>?"),
            ("distance", "121,400"),
        ])
        .saved(&shop, TECHNICIAN);
    let answer = shop.get(TECHNICIAN, &job);
    let said = text(&answer.body);
    let seq = job_row(&shop, &job).seq;
    for part in [
        "Top up: 3301",
        "Saved.",
        &format!("job {}", grouped(seq)),
        "2 US gal = 7.6 L from D-1 to 3301",
        "At the mark yes",
        "P1, Adda Quillworth (invented), proved by PIN",
        "Came in through these pages",
        "slow <b>leak</b>?",
        "121,400 km",
        "7.6 L used up from 3301",
        "7.6 L from D-1 to 3301",
        "D-1 before 20.5 L",
        "after 12.9 L",
        "Counts as consumption",
        "Next: another job on 3301",
        "Back to the board",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(!answer.body.contains("<b>leak"), "a note is text");
    // The others of the shop see the job; the way back is its own person's.
    for who in [
        As::OtherTechnician,
        As::LeadHand,
        As::Manager,
        As::Officer,
        As::Reader,
    ] {
        let said = page(&shop, who, &job);
        assert!(
            said.contains("7.6 L from D-1 to 3301") && !said.contains("Undo"),
            "{who:?}"
        );
    }
    for who in [As::HarbourTechnician, As::HarbourManager] {
        assert_eq!(shop.get(who, &job).status, 404, "{who:?}");
    }
    for nowhere in [
        "/jobs/1",
        "/jobs/00000000-0000-4000-8000-000000000001",
        "/jobs/%00",
    ] {
        assert_eq!(shop.get(TECHNICIAN, nowhere).status, 404, "{nowhere}");
    }
    shop.book_is_closed();
}

fn grouped(seq: i64) -> String {
    format!("{},{:03}", seq / 1_000, seq % 1_000)
}

#[test]
fn undo_takes_a_job_out_once_and_leaves_it_on_record() {
    let shop = Shop::open();
    let before = held_by_drum(&shop);
    let job = top_up(&shop, TECHNICIAN, "2.5");
    assert_eq!(held_by_drum(&shop), before - 2_500);
    let facts = shop.facts();
    // Nobody else's button, however they come by it.
    let others = shop.post(As::OtherTechnician, &format!("{job}/undo"), &[]);
    assert_eq!(
        others.header("location"),
        Some(format!("{job}/void").as_str())
    );
    assert_eq!(shop.facts(), facts);
    for _ in 0..2 {
        let answer = shop.post(TECHNICIAN, &format!("{job}/undo"), &[]);
        assert_eq!(
            (answer.status, answer.header("location")),
            (303, Some(job.as_str()))
        );
    }
    assert_eq!(
        shop.facts(),
        facts + 1,
        "one void, however often it is pressed"
    );
    assert_eq!(held_by_drum(&shop), before);
    assert_eq!(job_row(&shop, &job).standing, "voided");
    let answer = shop.get(TECHNICIAN, &job);
    let said = text(&answer.body);
    assert!(
        said.contains("Undone by P1, Adda Quillworth (invented)"),
        "{said}"
    );
    assert!(
        said.contains("2.5 L from D-1 to 3301"),
        "what was entered stays: {said}"
    );
    assert!(answer.body.contains("<h1 class=\"struck\">"));
    for gone in [
        "Saved.",
        "Void this job",
        "Correct this job",
        "What followed",
    ] {
        assert!(!said.contains(gone), "{gone}");
    }
    shop.book_is_closed();
}

#[test]
fn a_void_needs_a_reason_and_says_what_goes_back() {
    let shop = Shop::open();
    let before = held_by_drum(&shop);
    let job = top_up(&shop, TECHNICIAN, "2.5");
    let form = Form::open(&shop, TECHNICIAN, &format!("{job}/void"));
    let said = page(&shop, TECHNICIAN, &form.path);
    assert!(said.contains("D-1 goes back to 20.5 L"), "{said}");
    assert!(said.contains("By P1, Adda Quillworth"), "{said}");
    for (reason, words, problem) in [
        ("", "", "Nothing was chosen here"),
        ("Other", " ", "Nothing was typed here"),
        (
            "Because",
            "",
            "\"Because\" is not one of the answers offered",
        ),
        (
            "Wrong unit",
            &"x".repeat(4_001),
            "4001 characters, the most taken is 4000",
        ),
        ("Wrong unit", "a\0b", "U+0000"),
    ] {
        let said = form.with_all(&[("reason", reason), ("words", words)]);
        let facts = shop.facts();
        let answer = said.send(&shop, TECHNICIAN);
        assert_eq!(answer.status, 422, "{reason}");
        assert!(
            answer.body.contains("<title>Not saved: Void job"),
            "{}",
            answer.body
        );
        assert!(
            text(&answer.body).contains(problem),
            "{problem}: {}",
            text(&answer.body)
        );
        assert_eq!(shop.facts(), facts);
    }
    let slipped = form.with_all(&[("reason", "Practice"), ("role", "manager")]);
    assert_eq!(slipped.send(&shop, TECHNICIAN).status, 422);

    let facts = shop.facts();
    let hostile = "<script>alert(1)</script> it was 2 L";
    let meant = form.with_all(&[("reason", "Wrong volume"), ("words", hostile)]);
    for _ in 0..2 {
        assert_eq!(meant.saved(&shop, TECHNICIAN), job);
    }
    assert_eq!(shop.facts(), facts + 1);
    assert_eq!(held_by_drum(&shop), before);
    let answer = shop.get(As::Reader, &job);
    let said = text(&answer.body);
    assert!(
        said.contains("Voided by P1, Adda Quillworth (invented), 2026-10-05 07:0"),
        "{said}"
    );
    assert!(
        said.contains(&format!("Reason: Wrong volume: {hostile}")),
        "{said}"
    );
    assert!(!answer.body.contains("<script>alert"));
    shop.book_is_closed();
}

#[test]
fn whoever_comes_second_is_told_who_was_quicker_and_adds_nothing() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "2.5");
    let path = format!("{job}/void");
    let own = Form::open(&shop, TECHNICIAN, &path).with("reason", "Practice");
    let managers = Form::open(&shop, As::Manager, &path)
        .with_all(&[("reason", "Entered twice"), ("words", "see the board")]);
    own.saved(&shop, TECHNICIAN);
    let facts = shop.facts();
    let answer = managers.send(&shop, As::Manager);
    assert_eq!(answer.status, 422);
    let said = text(&answer.body);
    assert!(
        said.contains("Voided by P1, Adda Quillworth (invented)"),
        "{said}"
    );
    assert!(said.contains("Reason: Practice."), "{said}");
    let kept = Form::on(&path, &answer);
    assert_eq!(
        (kept.get("reason"), kept.get("words")),
        ("Entered twice", "see the board")
    );
    assert_eq!(shop.facts(), facts);
    // A page that was opened before leads to the job.
    let answer = shop.get(As::Manager, &path);
    assert_eq!(
        (answer.status, answer.header("location")),
        (303, Some(job.as_str()))
    );
    shop.book_is_closed();
}

#[test]
fn own_jobs_of_the_day_are_ones_own_to_take_back_and_the_rest_is_for_those_who_lead() {
    let shop = Shop::open();
    let today = top_up(&shop, TECHNICIAN, "1");
    let earlier = earlier_job(&shop, "P1");
    let (voiding, correcting) = ("void", "correct");
    for (who, job, way, status) in [
        (TECHNICIAN, &today, voiding, 200),
        (TECHNICIAN, &today, correcting, 200),
        (TECHNICIAN, &earlier, voiding, 403),
        (TECHNICIAN, &earlier, correcting, 403),
        (As::OtherTechnician, &today, voiding, 403),
        (As::OtherTechnician, &today, correcting, 403),
        (As::LeadHand, &today, voiding, 200),
        (As::LeadHand, &today, correcting, 200),
        (As::LeadHand, &earlier, voiding, 403),
        (As::Manager, &today, voiding, 200),
        (As::Manager, &earlier, voiding, 200),
        (As::Manager, &earlier, correcting, 200),
        (As::Officer, &today, voiding, 403),
        (As::Officer, &today, correcting, 403),
        (As::Reader, &today, voiding, 403),
        (As::Administrator, &today, voiding, 403),
        (As::HarbourManager, &today, voiding, 404),
        (As::HarbourManager, &today, correcting, 404),
        (As::Nobody, &today, voiding, 303),
    ] {
        let path = format!("{job}/{way}");
        let facts = shop.facts();
        assert_eq!(shop.get(who, &path).status, status, "{who:?} {path}");
        if status != 200 && way == voiding {
            let sent = shop.post(who, &path, &[("reason", "Practice")]);
            assert_eq!(
                sent.status,
                if status == 303 { 401 } else { status },
                "{who:?} {path}"
            );
        }
        assert_eq!(shop.facts(), facts, "{who:?} {path}");
    }
    let refused = text(&shop.get(TECHNICIAN, &format!("{earlier}/void")).body);
    assert!(
        refused.contains("nly a shop manager can do this"),
        "{refused}"
    );
    // After the month was closed it is the officer's as well.
    let closed = shop.read(async |read| {
        let questions = read.list_open_questions(None, 1_000).await.unwrap();
        let late = questions
            .iter()
            .find(|asked| asked.id.kind.code() == "month_closed");
        format!("/jobs/{}", late.unwrap().id.job)
    });
    assert_eq!(shop.get(As::Officer, &format!("{closed}/void")).status, 200);
    Form::open(&shop, As::Officer, &format!("{closed}/void"))
        .with("reason", "Entered twice")
        .saved(&shop, As::Officer);
    assert!(page(&shop, As::Reader, &closed).contains("Voided by P12"));
    shop.book_is_closed();
}

#[test]
fn anothers_job_is_voided_only_by_somebody_who_just_showed_who_they_are() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "1");
    let form =
        Form::open(&shop, As::Manager, &format!("{job}/void")).with("reason", "Entered twice");
    shop.let_the_proof_lapse(As::Manager);
    let facts = shop.facts();
    let asked = form.send(&shop, As::Manager);
    assert_eq!(asked.status, 401, "{}", asked.body);
    assert_eq!(shop.facts(), facts);
    assert_eq!(
        hidden(&asked.body, "kept:reason").as_deref(),
        Some("Entered twice")
    );
    let password = shop.secret(As::Manager, "password").unwrap();
    let shown = Form::on("/prove", &asked)
        .with("password", &password)
        .send(&shop, As::Manager);
    assert_eq!(shown.status, 200, "{}", shown.body);
    let again = Form::on(&form.path, &shown);
    assert_eq!(again.get("reason"), "Entered twice");
    again.saved(&shop, As::Manager);
    assert_eq!(shop.facts(), facts + 1);
    assert_eq!(job_row(&shop, &job).standing, "voided");

    // For one's own it is not asked again.
    let own = top_up(&shop, TECHNICIAN, "1");
    shop.let_the_proof_lapse(TECHNICIAN);
    Form::open(&shop, TECHNICIAN, &format!("{own}/void"))
        .with("reason", "Practice")
        .saved(&shop, TECHNICIAN);
    shop.book_is_closed();
}

/// The form of a correction is sent where the sheet of the kind is sent.
fn correction(shop: &Shop, who: As, job: &str) -> Form {
    let answer: Answer = shop.get(who, &format!("{job}/correct"));
    assert_eq!(answer.status, 200, "{}", answer.body);
    let action = answer
        .body
        .split("<form id=\"job\" method=\"post\" action=\"")
        .nth(1)
        .unwrap();
    Form::on(action.split('"').next().unwrap(), &answer)
}

#[test]
fn a_correction_opens_with_what_was_recorded_and_takes_its_place() {
    let shop = Shop::open();
    let before = held_by_drum(&shop);
    let drum = shop.read(async |read| read.find_vessel_by_name("D-1", None).await.unwrap());
    let job = Form::open(&shop, TECHNICIAN, &sheet(&shop, "3301", "top_up"))
        .with_all(&[
            ("source", &drum.unwrap().id.to_string()),
            ("volume", "2.5"),
            ("note", "hose clip"),
            ("when", "earlier"),
            ("day", "2026-10-04"),
            ("time", "16:20"),
        ])
        .saved(&shop, TECHNICIAN);
    let form = correction(&shop, TECHNICIAN, &job);
    for (name, value) in [
        ("volume", "2.5 L"),
        ("note", "hose clip"),
        ("when", "earlier"),
        ("day", "2026-10-04"),
        ("time", "16:20"),
    ] {
        assert_eq!(form.get(name), value, "{name}");
    }
    let without_reason = form.with("volume", "1.5").send(&shop, TECHNICIAN);
    assert_eq!(without_reason.status, 422);
    let corrected = form.with_all(&[("volume", "1.5"), ("replace_reason", "misread the jug")]);
    let new = corrected.saved(&shop, TECHNICIAN);
    assert_ne!(new, job);
    assert!(
        (held_by_drum(&shop) - (before - 1_500)).abs() <= 1,
        "rounded once more"
    );
    let said = page(&shop, TECHNICIAN, &job);
    assert!(
        said.contains("Corrected by P1, Adda Quillworth (invented)"),
        "{said}"
    );
    assert!(said.contains("Reason: misread the jug"), "{said}");
    assert!(
        shop.get(TECHNICIAN, &job)
            .body
            .contains(&format!("href=\"{new}\""))
    );
    let said = page(&shop, TECHNICIAN, &new);
    assert!(said.contains("Takes the place of another job"), "{said}");
    assert!(said.contains("2026-10-04 16:20"), "{said}");
    // Sent again it is the same one; opened before by somebody else it comes too late.
    let facts = shop.facts();
    assert_eq!(corrected.saved(&shop, TECHNICIAN), new);
    assert_eq!(shop.facts(), facts);
    shop.book_is_closed();
}

#[test]
fn two_people_who_correct_one_job_do_not_record_it_twice() {
    let shop = Shop::open();
    let before = held_by_drum(&shop);
    let job = top_up(&shop, TECHNICIAN, "2.5");
    let own = correction(&shop, TECHNICIAN, &job);
    let leads = correction(&shop, As::LeadHand, &job);
    own.with_all(&[("volume", "1.5"), ("replace_reason", "jug")])
        .saved(&shop, TECHNICIAN);
    let facts = shop.facts();
    let late = leads.with_all(&[("volume", "1"), ("replace_reason", "asked them")]);
    let answer = late.send(&shop, As::LeadHand);
    assert_eq!(answer.status, 422, "{:?}", answer.header("location"));
    assert!(
        text(&answer.body).contains("Already saved as job"),
        "{}",
        text(&answer.body)
    );
    let slow = late
        .with("key", &Uuid::new_v4().to_string())
        .send(&shop, As::LeadHand);
    assert_eq!(slow.status, 422);
    let said = text(&slow.body);
    assert!(
        said.contains("does not count any more. Corrected by P1"),
        "{said}"
    );
    assert_eq!(shop.facts(), facts);
    assert!(
        (held_by_drum(&shop) - (before - 1_500)).abs() <= 1,
        "rounded once more"
    );
    shop.book_is_closed();
}

#[test]
fn a_job_cannot_be_replaced_by_somebody_who_may_not_take_it_back() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "2.5");
    let facts = shop.facts();
    let key = job.rsplit('/').next().unwrap();
    let form = correction(&shop, TECHNICIAN, &job).with_all(&[
        ("replace_reason", "mine now"),
        ("key", &Uuid::new_v4().to_string()),
    ]);
    assert_eq!(form.get("replaces"), key);
    assert_eq!(form.send(&shop, As::OtherTechnician).status, 403);
    assert_eq!(shop.facts(), facts);
    let elsewhere = earlier_job(&shop, "P1");
    let elsewhere = elsewhere.rsplit('/').next().unwrap();
    assert_eq!(
        form.with("replaces", elsewhere)
            .send(&shop, TECHNICIAN)
            .status,
        403
    );
    let nowhere = form
        .with("replaces", &Uuid::new_v4().to_string())
        .send(&shop, TECHNICIAN);
    assert_eq!(nowhere.status, 422);
    assert!(text(&nowhere.body).contains("is not on record in this shop"));
    assert_eq!(shop.facts(), facts);
    shop.book_is_closed();
}

#[test]
fn a_pressure_test_shows_its_readings_and_what_they_prove() {
    let shop = Shop::open();
    let job = Form::open(&shop, TECHNICIAN, &sheet(&shop, "3305", "pressure_test"))
        .with_all(&[
            ("pressure_start", "100"),
            ("hold", "5"),
            ("pressure_end", "98"),
        ])
        .saved(&shop, TECHNICIAN);
    let said = page(&shop, TECHNICIAN, &job);
    for part in [
        "Proves nothing The temperature was not read at both ends",
        "Gauge pressure at the start 100.0 kPa, temperature not entered",
        "Gauge pressure at the end 98.0 kPa",
        "Held for 5 min",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    for judged in ["Passed", "Failed"] {
        assert!(!said.contains(judged), "{said}");
    }
    shop.book_is_closed();
}
