//! Photos of a job: added, seen, sent twice, taken out of sight, not allowed, kept by backups.

use std::{fs, io::Cursor, path::Path, thread};

use domain::{ids::FactKey, moment::Moment};
use image::{DynamicImage, ImageFormat, Rgb, RgbImage};

use crate::{
    client::Answer,
    pages::{
        browser::Browser,
        form::{Form, text},
        shop::{As, Shop},
        void::top_up,
    },
    server::run,
};

const TECHNICIAN: As = As::Technician;

/// A picture that differs from any with another number.
pub(super) fn picture(number: u8, format: ImageFormat) -> Vec<u8> {
    let picture = RgbImage::from_fn(60, 40, |x, _| {
        Rgb([if x < 30 { 220 } else { 20 }, number, 90])
    });
    let mut bytes = Vec::new();
    DynamicImage::from(picture)
        .write_to(&mut Cursor::new(&mut bytes), format)
        .unwrap();
    bytes
}

/// A form as a browser sends it when it has a file field.
pub(super) fn parts(photo: &[u8], caption: &str) -> Vec<u8> {
    let mut body = b"--edge\r\nContent-Disposition: form-data; name=\"photo\"; \
        filename=\"../../evil.php\"\r\nContent-Type: image/png\r\n\r\n"
        .to_vec();
    body.extend(photo);
    body.extend(b"\r\n--edge\r\nContent-Disposition: form-data; name=\"caption\"\r\n\r\n");
    body.extend(caption.as_bytes());
    body.extend(b"\r\n--edge--\r\n");
    body
}

/// The bytes of a request that sends `body` to a job's photos.
pub(super) fn request(browser: &Browser, job: &str, body: &[u8]) -> Vec<u8> {
    let headers = [
        ("Sec-Fetch-Site", "same-origin"),
        ("Content-Type", "multipart/form-data; boundary=edge"),
    ];
    browser.request(("POST", &format!("{job}/photos")), &headers, body)
}

pub(super) fn add(shop: &Shop, who: As, job: &str, body: &[u8]) -> Answer {
    shop.with_browser(who, |browser| {
        browser.send_as_it_is(&request(browser, job, body))
    })
}

/// Addresses of the photos on a job's page.
pub(super) fn addresses(shop: &Shop, who: As, job: &str) -> Vec<String> {
    let page = shop.get(who, job).body;
    let images = page.split("<img src=\"").skip(1);
    images
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .collect()
}

/// Every file below the folder of photos.
pub(super) fn files(data: &Path) -> Vec<Vec<u8>> {
    let Ok(folders) = fs::read_dir(data.join("photos")) else {
        return Vec::new();
    };
    folders
        .flat_map(|folder| fs::read_dir(folder.unwrap().path()).unwrap())
        .map(|file| fs::read(file.unwrap().path()).unwrap())
        .collect()
}

#[test]
fn a_photo_is_kept_drawn_anew_and_shown_with_its_words() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "1");
    let sent = picture(1, ImageFormat::Png);
    let answer = add(
        &shop,
        TECHNICIAN,
        &job,
        &parts(&sent, "upper hose, <before>"),
    );
    assert_eq!(answer.status, 303, "{}", answer.body);
    assert_eq!(
        answer.header("location"),
        Some(format!("{job}#photos").as_str())
    );
    let page = shop.get(TECHNICIAN, &job).body;
    assert!(
        page.contains("alt=\"Photo 1 of 1: upper hose, &#60;before&#62;\""),
        "{page}"
    );
    assert!(page.contains("width=\"60\" height=\"40\""));
    assert!(text(&page).contains("added by P1"));
    let [address] = addresses(&shop, As::Reader, &job).try_into().unwrap();
    let photo = shop.get(As::Reader, &address);
    assert_eq!(photo.status, 200);
    assert_eq!(photo.header("content-type"), Some("image/jpeg"));
    assert_eq!(photo.header("x-content-type-options"), Some("nosniff"));
    assert_eq!(
        photo.header("content-security-policy"),
        Some("default-src 'none'; sandbox")
    );
    assert_eq!(photo.header("cache-control"), Some("no-store"));
    let name = photo.header("content-disposition").unwrap();
    assert!(
        name.starts_with("attachment; filename=\"job-") && !name.contains("evil"),
        "{name}"
    );
    assert!(
        photo.bytes.starts_with(b"\xff\xd8\xff"),
        "a JPEG, whatever was sent"
    );
    assert_eq!(files(shop.data()), [photo.bytes]);
    shop.book_is_closed();
}

#[test]
fn the_same_photo_is_one_however_often_and_from_how_many_pages_it_is_sent() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "1");
    let facts = shop.facts();
    let sent = parts(&picture(2, ImageFormat::Jpeg), "");
    let pages: Vec<Vec<u8>> = [TECHNICIAN, As::LeadHand, TECHNICIAN, As::Manager]
        .into_iter()
        .map(|who| shop.with_browser(who, |browser| request(browser, &job, &sent)))
        .collect();
    let address = shop.program.address;
    thread::scope(|scope| {
        let sending: Vec<_> = pages
            .iter()
            .map(|page| scope.spawn(|| crate::client::send_raw(address, page).status))
            .collect();
        for each in sending {
            assert_eq!(each.join().unwrap(), 303);
        }
    });
    // Other words under the same picture do not make it another.
    let again = parts(&picture(2, ImageFormat::Jpeg), "other words");
    assert_eq!(add(&shop, TECHNICIAN, &job, &again).status, 303);
    assert_eq!(shop.facts(), facts + 1);
    assert_eq!(addresses(&shop, TECHNICIAN, &job).len(), 1);
    // On another job it is another photo, and its bytes are kept once.
    let other = top_up(&shop, TECHNICIAN, "2");
    assert_eq!(add(&shop, TECHNICIAN, &other, &sent).status, 303);
    assert_eq!(addresses(&shop, TECHNICIAN, &other).len(), 1);
    assert_eq!(files(shop.data()).len(), 1);
    shop.book_is_closed();
}

#[test]
fn a_photo_is_taken_out_of_sight_with_a_reason_and_its_bytes_go() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "1");
    let other = top_up(&shop, TECHNICIAN, "2");
    let sent = parts(&picture(3, ImageFormat::Jpeg), "a mechanic");
    for job in [&job, &other] {
        assert_eq!(add(&shop, TECHNICIAN, job, &sent).status, 303);
    }
    let [photo] = addresses(&shop, TECHNICIAN, &job).try_into().unwrap();
    let remove = format!("{photo}/remove");
    // A reason is asked for, and only whoever may void the job may do it.
    assert_eq!(shop.post(TECHNICIAN, &remove, &[]).status, 422);
    assert_eq!(
        shop.post(As::OtherTechnician, &remove, &[("reason", "Other")])
            .status,
        403
    );
    let form = Form::open(&shop, TECHNICIAN, &remove).with("reason", "It shows a person");
    assert_eq!(form.send(&shop, TECHNICIAN).status, 303);
    let page = text(&shop.get(TECHNICIAN, &job).body);
    assert!(
        page.contains("A photo was taken out of sight by P1"),
        "{page}"
    );
    assert!(page.contains("Reason: It shows a person."));
    assert!(addresses(&shop, TECHNICIAN, &job).is_empty());
    assert_eq!(shop.get(TECHNICIAN, &photo).status, 404);
    assert_eq!(shop.get(TECHNICIAN, &remove).status, 404);
    // The other job shows the same bytes still.
    let [twin] = addresses(&shop, TECHNICIAN, &other).try_into().unwrap();
    assert_eq!(shop.get(TECHNICIAN, &twin).status, 200);
    assert_eq!(files(shop.data()).len(), 1);
    // Sent once more, and the button pressed once more: nothing comes back and nothing happens twice.
    let facts = shop.facts();
    assert_eq!(form.send(&shop, TECHNICIAN).status, 303);
    let again = add(&shop, TECHNICIAN, &job, &sent);
    assert_eq!(again.status, 422);
    assert!(
        text(&again.body).contains("taken out of sight of this job"),
        "{}",
        again.body
    );
    assert_eq!(shop.facts(), facts);
    let form = Form::open(&shop, As::LeadHand, &format!("{twin}/remove"));
    assert_eq!(
        form.with("reason", "Other")
            .send(&shop, As::LeadHand)
            .status,
        422
    );
    let form = form.with_all(&[("reason", "Other"), ("words", "the wrong truck")]);
    assert_eq!(form.send(&shop, As::LeadHand).status, 303);
    assert!(
        files(shop.data()).is_empty(),
        "nobody names the bytes any more"
    );
    shop.book_is_closed();
}

#[test]
fn photos_are_added_and_seen_by_those_of_the_shop_only() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "1");
    let sent = parts(&picture(4, ImageFormat::Jpeg), "");
    for (who, status) in [
        (As::Reader, 403),
        (As::Officer, 403),
        (As::HarbourTechnician, 404),
    ] {
        assert_eq!(add(&shop, who, &job, &sent).status, status, "{who:?}");
    }
    let nobody = add(&shop, As::Nobody, &job, &sent);
    assert_eq!(nobody.status, 303);
    assert!(
        nobody
            .header("location")
            .unwrap()
            .starts_with("/sign-on?next=")
    );
    assert_eq!(
        add(&shop, As::OtherTechnician, &job, &sent).status,
        303,
        "another's job"
    );
    let [photo] = addresses(&shop, TECHNICIAN, &job).try_into().unwrap();
    for (who, status) in [
        (As::Reader, 200),
        (As::HarbourTechnician, 404),
        (As::Administrator, 403),
        (As::Nobody, 303),
    ] {
        assert_eq!(shop.get(who, &photo).status, status, "{who:?}");
    }
    // Under another job's address it is not there.
    let other = top_up(&shop, TECHNICIAN, "2");
    let key = photo.rsplit('/').next().unwrap();
    assert_eq!(
        shop.get(TECHNICIAN, &format!("{other}/photos/{key}"))
            .status,
        404
    );
    // A job that does not count any more takes no more photos, and keeps those it has.
    assert_eq!(
        shop.post(TECHNICIAN, &format!("{job}/undo"), &[]).status,
        303
    );
    assert!(!shop.get(TECHNICIAN, &job).body.contains("type=\"file\""));
    let more = parts(&picture(5, ImageFormat::Jpeg), "");
    assert_eq!(add(&shop, TECHNICIAN, &job, &more).status, 422);
    assert_eq!(addresses(&shop, TECHNICIAN, &job), [photo]);
    shop.book_is_closed();
}

#[test]
fn backups_bring_photos_along_and_what_is_lost_is_named() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "1");
    let sent = parts(&picture(6, ImageFormat::Jpeg), "");
    assert_eq!(add(&shop, TECHNICIAN, &job, &sent).status, 303);
    let data = shop.data().display().to_string();
    let backups = tempfile::tempdir().unwrap();
    let into = backups.path().display().to_string();
    let made = run(&["backup", "--data", &data, &into]);
    assert!(made.status.success(), "{made:?}");
    let said = String::from_utf8(made.stdout).unwrap();
    let backup = said.lines().next().unwrap().to_owned();
    let restored = tempfile::tempdir().unwrap();
    let whole = restored.path().join("whole").display().to_string();
    assert!(
        run(&["restore", "--data", &whole, &backup])
            .status
            .success()
    );
    assert_eq!(files(Path::new(&whole)), files(shop.data()));
    assert!(run(&["verify", "--data", &whole]).status.success());

    // One byte of the photo in the backup changes, then the file goes.
    let kept = fs::read_dir(backups.path().join("photos"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap();
    let kept = fs::read_dir(kept.path())
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let digest = kept.file_stem().unwrap().to_string_lossy().into_owned();
    let mut bytes = fs::read(&kept).unwrap();
    let last = bytes.len() - 1;
    bytes[last] ^= 1;
    fs::write(&kept, &bytes).unwrap();
    let lacking = restored.path().join("lacking").display().to_string();
    let told = run(&["restore", "--data", &lacking, &backup]);
    assert_eq!(told.status.code(), Some(1), "{told:?}");
    let said = String::from_utf8(told.stdout).unwrap();
    assert!(
        said.contains(&format!("photo {digest} is missing")),
        "{said}"
    );
    assert!(
        said.contains("restored into"),
        "the record itself is there: {said}"
    );

    // The same in the folder that is served; the record is copied all the same.
    let within = shop
        .data()
        .join("photos")
        .join(&digest[..2])
        .join(format!("{digest}.jpg"));
    fs::write(&within, &bytes).unwrap();
    fs::remove_file(&kept).unwrap();
    let verified = run(&["verify", "--data", &data]);
    assert_eq!(verified.status.code(), Some(1));
    let said = String::from_utf8(verified.stdout).unwrap();
    assert!(
        said.contains(&format!("photo {digest} differs from its digest")),
        "{said}"
    );
    let [photo] = addresses(&shop, TECHNICIAN, &job).try_into().unwrap();
    assert_eq!(
        shop.get(TECHNICIAN, &photo).status,
        404,
        "nobody is shown what it is not"
    );
    let again = run(&["backup", "--data", &data, &into]);
    assert_eq!(again.status.code(), Some(1));
    let said = String::from_utf8(again.stdout).unwrap();
    assert!(
        said.contains("it was read back and verifies") && said.contains(&digest),
        "{said}"
    );
    // Sent again, the photo is whole again.
    assert_eq!(add(&shop, TECHNICIAN, &job, &sent).status, 303);
    shop.book_is_closed();
}

#[test]
fn a_photo_that_waited_on_a_tablet_follows_its_job_under_the_name_it_was_taken_in() {
    let shop = Shop::open();
    let page = shop.get(TECHNICIAN, "/").body;
    let person = page.split("data-person=\"").nth(1).unwrap();
    let person = person.split('"').next().unwrap();
    let send = |browser: &Browser, job: &str, kind: &str, bytes: &[u8]| {
        let path = format!(
            "/tablet/photos{}?person={person}&proved=pin&saved_at=1791205200000",
            job.trim_start_matches("/jobs")
        );
        let headers = [("Sec-Fetch-Site", "same-origin"), ("Content-Type", kind)];
        browser.send_as_it_is(&browser.request(("POST", &path), &headers, bytes))
    };
    let tablet = |job: &str, kind: &str, bytes: &[u8]| {
        shop.with_browser(TECHNICIAN, |browser| send(browser, job, kind, bytes))
    };
    let jpeg = picture(7, ImageFormat::Jpeg);
    let early = tablet(
        "/jobs/0f8fad5b-d9cb-469f-a165-70867728950e",
        "image/jpeg",
        &jpeg,
    );
    assert_eq!(
        (early.status, &early.json()["state"]),
        (409, &"job_first".into())
    );

    let job = top_up(&shop, TECHNICIAN, "1.5");
    for _ in 0..2 {
        let taken = tablet(&job, "image/jpeg", &jpeg);
        assert_eq!(taken.status, 200, "{}", taken.body);
        assert_eq!(taken.json()["state"], "accepted");
    }
    assert_eq!(addresses(&shop, TECHNICIAN, &job).len(), 1);
    let broken = tablet(&job, "image/jpeg", b"no picture at all");
    assert_eq!(
        (broken.status, &broken.json()["state"]),
        (422, &"returned".into())
    );
    assert_eq!(tablet(&job, "image/png", &jpeg).status, 400);
    let nobody = shop.browser();
    assert_eq!(send(&nobody, &job, "image/jpeg", &jpeg).status, 401);
    assert_eq!(files(shop.data()).len(), 1);
}

#[test]
fn a_photo_that_waited_was_taken_when_it_was_saved_and_the_last_that_fits_may_come_twice() {
    let shop = Shop::open();
    let page = shop.get(TECHNICIAN, "/").body;
    let person = page.split("data-person=\"").nth(1).unwrap();
    let person = person.split('"').next().unwrap();
    let job = top_up(&shop, TECHNICIAN, "1.5");
    let send = |saved_at: &str, number: u8| {
        let path = format!(
            "/tablet/photos{}?person={person}&proved=pin&saved_at={saved_at}",
            job.trim_start_matches("/jobs")
        );
        let headers = [
            ("Sec-Fetch-Site", "same-origin"),
            ("Content-Type", "image/jpeg"),
        ];
        let bytes = picture(number * 11, ImageFormat::Jpeg);
        shop.with_browser(TECHNICIAN, |browser| {
            browser.send_as_it_is(&browser.request(("POST", &path), &headers, &bytes))
        })
    };
    // Five seconds slow, and put right.
    let taken = send("1791205200000&clock_offset_ms=5000", 0);
    assert_eq!(taken.status, 200, "{}", taken.body);
    let [address] = addresses(&shop, TECHNICIAN, &job).try_into().unwrap();
    let key = FactKey(address.rsplit('/').next().unwrap().parse().unwrap());
    let row = shop.read(async |read| read.find_fact(key).await.unwrap().unwrap());
    let when = row.fact().unwrap().when;
    assert_eq!(
        (when.happened(), when.clock_offset_ms),
        (Moment(1_791_205_205_000), 5_000)
    );
    assert_ne!(row.at, when.happened().0, "it came in at another time");

    for number in 1..20 {
        assert_eq!(send("1791205200000", number).status, 200);
    }
    assert_eq!(send("1791205200000", 19).status, 200, "it is there");
    let more = send("1791205200000", 20);
    assert_eq!(
        (more.status, &more.json()["state"]),
        (422, &"returned".into())
    );
    assert_eq!(addresses(&shop, TECHNICIAN, &job).len(), 20);
    let again = parts(&picture(19 * 11, ImageFormat::Jpeg), "");
    assert_eq!(add(&shop, TECHNICIAN, &job, &again).status, 303);
    let more = parts(&picture(20 * 11, ImageFormat::Jpeg), "");
    assert_eq!(add(&shop, TECHNICIAN, &job, &more).status, 422);
    assert_eq!(
        files(shop.data()).len(),
        20,
        "nothing is left of what did not fit"
    );
    // No time at all: never, not later.
    assert_eq!(send("17", 1).status, 400);
    shop.book_is_closed();
}
