//! Labels of units: chosen, drawn, followed.

use super::address;
use crate::pages::{
    form::text,
    shop::{As, Shop},
};

fn id(address: &str) -> &str {
    address.rsplit('/').next().unwrap()
}

/// The code on the only label of a sheet, without what parts it for reading aloud.
fn code(sheet: &str) -> String {
    let code = sheet.split("<br>Code ").nth(1).unwrap();
    code.get(..9).unwrap().replace('-', "")
}

#[test]
fn a_sheet_shows_the_labels_that_were_chosen_with_number_code_and_a_test_line() {
    let shop = Shop::open();
    let (one, two) = (address(&shop, "3301"), address(&shop, "3307"));
    let choose = shop.get(As::LeadHand, "/labels").body;
    assert!(choose.contains(&format!("value=\"{}\"", id(&one))));
    assert!(!choose.contains("class=\"labels\""), "none is chosen yet");
    let path = format!("/labels?unit%5B%5D={}&unit%5B%5D={}", id(&one), id(&two));
    let sheet = shop.get(As::Manager, &path).body;
    let labels = sheet.split("<ul class=\"labels\">").nth(1).unwrap();
    assert_eq!(labels.matches("<svg class=\"qr\"").count(), 2);
    for number in ["3301", "3307"] {
        assert!(
            labels.contains(&format!("<strong>{number}</strong>")),
            "{number}"
        );
    }
    assert!(sheet.contains("<p class=\"ruler\">50 mm</p>"));
    // What was chosen stays chosen when other units are shown to choose from.
    let narrowed = shop.get(As::Manager, &format!("{path}&text=5606")).body;
    let labels = narrowed.split("<ul class=\"labels\">").nth(1).unwrap();
    assert_eq!(labels.matches("<strong>").count(), 2);
    let wrong = shop.get(As::Manager, "/labels?unit%5B%5D=3301");
    assert_eq!(wrong.status, 422);
    assert!(text(&wrong.body).contains("\"3301\" is not one of the answers offered"));
    let none = shop.get(As::Manager, "/labels?text=no+such+unit");
    assert!(none.body.contains("No unit is found by that"));
    for who in [As::Technician, As::Reader, As::Officer] {
        assert_eq!(shop.get(who, "/labels").status, 403, "{who:?}");
    }
}

#[test]
fn a_label_and_its_code_lead_to_the_unit_however_the_code_is_typed() {
    let shop = Shop::open();
    let unit = address(&shop, "3301");
    let sheet = shop.get(As::Manager, &format!("/labels?unit%5B%5D={}", id(&unit)));
    let code = code(&sheet.body);
    let (start, end) = code.split_at(4);
    for typed in [code.clone(), code.to_lowercase(), format!("{start}-{end}")] {
        let label = shop.get(As::Technician, &format!("/u/{typed}"));
        assert_eq!(
            (label.status, label.header("location")),
            (303, Some(unit.as_str())),
            "{typed}"
        );
        // The field of the board takes the code too.
        let found = shop.get(As::Technician, &format!("/units?text={typed}"));
        assert_eq!(found.status, 303, "{typed}");
        assert_eq!(
            found.header("location"),
            Some(format!("/u/{code}").as_str())
        );
    }
    // Units are worked on in every yard, and a number is a number before it is a code.
    assert_eq!(
        shop.get(As::HarbourTechnician, &format!("/u/{code}"))
            .status,
        303
    );
    assert_eq!(address(&shop, "3301"), unit);
    for wrong in ["00000000", "3301", "UUUUUUUU", "%3Cscript%3E"] {
        let answer = shop.get(As::Technician, &format!("/u/{wrong}"));
        assert_eq!(answer.status, 404, "{wrong}");
        assert!(answer.body.contains("No unit has this label"), "{wrong}");
        assert!(!answer.body.contains("<script>"));
    }
    assert_eq!(shop.get(As::Nobody, &format!("/u/{code}")).status, 303);
}
