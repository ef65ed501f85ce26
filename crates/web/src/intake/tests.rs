//! What becomes of a written job, by its kind and its names.

use domain::fact::What;
use domain::ids::{PlaceId, ShopId, UnitId};
use domain::job::{Account, Details, Job, Line, Mark};
use uuid::Uuid;

use super::derived;
use super::directory::{Directory, KnownLoop, KnownShop, KnownUnit, KnownVessel};
use super::read::ReadJob;
use super::written::{FieldProblem, WrittenJob};

const CART: PlaceId = PlaceId(Uuid::from_u128(1));
const DRUM: PlaceId = PlaceId(Uuid::from_u128(2));
const ENGINE: PlaceId = PlaceId(Uuid::from_u128(3));
const BATTERY: PlaceId = PlaceId(Uuid::from_u128(4));
const NORTH: ShopId = ShopId(Uuid::from_u128(5));
const SOUTH: ShopId = ShopId(Uuid::from_u128(6));

fn names() -> Directory {
    let mut names = Directory::default();
    for (id, name) in [(NORTH, "North Yard"), (SOUTH, "South Yard")] {
        names.add_shop(KnownShop {
            id,
            name: name.to_owned(),
            zone: chrono_tz::America::Denver,
        });
    }
    let loops = [(ENGINE, "engine"), (BATTERY, "battery")];
    names.add_unit(KnownUnit {
        id: UnitId(Uuid::from_u128(7)),
        number: "3304".to_owned(),
        shop: Some(NORTH),
        loops: loops
            .map(|(id, name)| KnownLoop {
                id,
                name: name.to_owned(),
            })
            .to_vec(),
    });
    for (id, name, shop) in [(CART, "Cart A", NORTH), (DRUM, "Drum 1", SOUTH)] {
        names.add_vessel(KnownVessel {
            id,
            name: name.to_owned(),
            shop: Some(shop),
        });
    }
    names
}

fn read(written: &WrittenJob, names: &Directory) -> Result<ReadJob, Vec<FieldProblem>> {
    super::read::read(written, names, None)
}

/// `kind unit from to volume fluid`, "-" for a blank one.
fn written(words: [&str; 6]) -> WrittenJob {
    let [kind, unit, from, to, volume, fluid] =
        words.map(|word| (word != "-").then(|| word.to_owned()));
    WrittenJob {
        when: Some("2026-10-05 07:40".to_owned()),
        kind,
        unit,
        from,
        to,
        volume,
        fluid,
        ..WrittenJob::default()
    }
}

fn job(read: ReadJob) -> Job {
    match read.fact.what {
        What::Job(job) => job,
        other => panic!("not a job: {other:?}"),
    }
}

fn ways(job: &Job) -> Vec<(Account, Account)> {
    let way = |line: &Line| match line {
        Line::Movement(movement) => (movement.from, movement.to),
        Line::Dip(dip) => (dip.place, dip.place),
        Line::Reading(reading) => (reading.place, reading.place),
    };
    job.lines.iter().map(way).collect()
}

const ENGINE_LOOP: Account = Account::Loop(ENGINE);
const CART_A: Account = Account::Vessel(CART);
const DRUM_1: Account = Account::Vessel(DRUM);

type Ways = &'static [(Account, Account)];

const MOVES: [([&str; 6], Ways); 18] = [
    (
        ["receive", "-", "-", "Drum 1", "5 L", "water"],
        &[(Account::Supplier, DRUM_1)],
    ),
    (
        ["receive", "-", "Supplier", "Drum 1", "5 L", "-"],
        &[(Account::Supplier, DRUM_1)],
    ),
    (
        ["recover", "3304", "-", "cart a", "5 L", "-"],
        &[(ENGINE_LOOP, CART_A)],
    ),
    (
        ["fill", "3304", "Cart A", "-", "5 L", "-"],
        &[(CART_A, ENGINE_LOOP)],
    ),
    (
        ["fill", "3304", "-", "-", "5 L", "water"],
        &[(Account::Supplier, ENGINE_LOOP)],
    ),
    (
        ["Top up", "3304", "-", "-", "5 L", "-"],
        &[(Account::Supplier, ENGINE_LOOP)],
    ),
    (
        ["top_up", "3304", "Drum 1", "-", "5 L", "-"],
        &[(DRUM_1, ENGINE_LOOP)],
    ),
    (
        ["exchange", "3304", "Drum 1", "Cart A", "5 L", "-"],
        &[(ENGINE_LOOP, CART_A), (DRUM_1, ENGINE_LOOP)],
    ),
    (
        ["flush", "3304", "-", "Cart A", "5 L", "-"],
        &[(ENGINE_LOOP, CART_A)],
    ),
    (
        ["correct", "3304", "-", "-", "5 L", "EG 100 % IAT"],
        &[(Account::Supplier, ENGINE_LOOP)],
    ),
    (["correct", "3304", "-", "-", "-", "-"], &[]),
    (
        ["move", "-", "Drum 1", "Cart A", "5 L", "-"],
        &[(DRUM_1, CART_A)],
    ),
    (
        ["spill", "3304", "-", "spilled", "5 L", "-"],
        &[(ENGINE_LOOP, Account::Spilled)],
    ),
    (
        ["spill", "-", "Drum 1", "-", "5 L", "-"],
        &[(DRUM_1, Account::Spilled)],
    ),
    (
        ["ship out", "-", "Drum 1", "-", "5 L", "-"],
        &[(DRUM_1, Account::Carrier)],
    ),
    (["dip", "-", "-", "Drum 1", "0 L", "-"], &[(DRUM_1, DRUM_1)]),
    (["condition test", "3304", "-", "-", "-", "-"], &[]),
    (["inspect", "-", "Drum 1", "-", "-", "-"], &[]),
];

#[test]
fn each_kind_moves_fluid_its_own_way() {
    for (words, expected) in MOVES {
        let job = job(read(&written(words), &names()).unwrap());
        assert_eq!(ways(&job), expected, "{words:?}");
        assert!(job.place.is_some(), "{words:?}");
    }
}

#[test]
fn the_carrier_of_a_shipment_may_be_named() {
    let read = read(
        &written(["ship", "-", "Drum 1", "Far Away Haulage", "5 L", "-"]),
        &names(),
    );
    let carrier = match job(read.unwrap()).details {
        Some(Details::Ship { carrier, .. }) => carrier,
        other => panic!("{other:?}"),
    };
    assert_eq!(carrier, "Far Away Haulage");
    let into_a_vessel = read_problem(["ship", "-", "Drum 1", "Cart A", "5 L", "-"]);
    assert_eq!(into_a_vessel, ["to"]);
}

fn read_problem(words: [&str; 6]) -> Vec<&'static str> {
    let problems = read(&written(words), &names()).unwrap_err();
    problems.iter().map(|problem| problem.column).collect()
}

#[test]
fn a_name_without_a_card_gets_the_place_its_card_will_have() {
    let words = ["recover", "9901", "-", "Cart Z", "5 L", "-"];
    assert_eq!(read_problem(words), ["shop"]);
    let in_south = WrittenJob {
        shop: Some("SOUTH yard".to_owned()),
        who: Some("P7".to_owned()),
        ..written(words)
    };
    let read = read(&in_south, &names()).unwrap();
    assert_eq!(read.shop.id, SOUTH);
    let person = read.new_person.clone().unwrap();
    assert_eq!(person.id, derived::person_id("South Yard", "p7"));
    assert_eq!(read.fact.by.person, Some(person.id));
    let job = job(read);
    assert_eq!(
        ways(&job),
        [(
            Account::Loop(derived::loop_id("9901", "engine")),
            Account::Vessel(derived::vessel_id("south yard", "cart z"))
        )]
    );
}

#[test]
fn the_shop_is_the_units_before_it_is_a_vessels() {
    let shop = |words| read(&written(words), &names()).unwrap().shop.id;
    assert_eq!(shop(["fill", "3304", "Drum 1", "-", "5 L", "-"]), NORTH);
    assert_eq!(shop(["move", "-", "Drum 1", "Cart A", "5 L", "-"]), SOUTH);
    assert_eq!(shop(["move", "-", "Tank 9", "Cart A", "5 L", "-"]), NORTH);
}

#[test]
fn jobs_of_one_minute_follow_each_other_as_the_work_does() {
    let made = |words| read(&written(words), &names()).unwrap().fact.when.made_at;
    let order = [
        ["receive", "-", "-", "Drum 1", "5 L", "water"],
        ["recover", "3304", "-", "Cart A", "5 L", "-"],
        ["fill", "3304", "Cart A", "-", "5 L", "-"],
        ["top_up", "3304", "Drum 1", "-", "5 L", "-"],
        ["ship", "-", "Drum 1", "-", "5 L", "-"],
    ];
    assert!(order.map(made).is_sorted());
    assert!(made(order[0]) < made(order[4]));
}

#[test]
fn a_loop_is_chosen_by_name_and_one_called_engine_without() {
    let battery = WrittenJob {
        unit_loop: Some("Battery".to_owned()),
        at_mark: Some("No".to_owned()),
        meter: Some("121,400 km; 8.210 h".to_owned()),
        ..written(["top_up", "3304", "-", "-", "5 L", "water"])
    };
    let read = read(&battery, &names()).unwrap();
    let job = job(read);
    assert_eq!(job.place, Some(Account::Loop(BATTERY)));
    assert_eq!((job.mark, job.meters.len()), (Some(Mark::NotAt), 2));
}

#[test]
fn a_loop_may_stand_behind_the_number_as_it_is_shown() {
    for unit in ["3304 battery", "3304/Battery", "3304  battery"] {
        let read = read(
            &written(["recover", unit, "-", "Tank 9", "5 L", "-"]),
            &names(),
        )
        .unwrap();
        assert_eq!(read.shop.id, NORTH);
        assert_eq!(job(read).place, Some(Account::Loop(BATTERY)), "{unit}");
    }
    let unknown = read_problem(["recover", "3304 heater", "-", "Tank 9", "5 L", "-"]);
    assert_eq!(unknown, ["shop"]);
}
