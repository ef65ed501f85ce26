//! Every address of the site and who may use it, in one table.
//!
//! A route cannot be added but with the people it is for: `Entry` has no other way. What a person
//! sees of another shop is settled where the subject is looked up (404, as if it were not there).

use std::collections::HashSet;

use axum::{
    Router,
    extract::DefaultBodyLimit,
    handler::Handler,
    http::Method,
    middleware,
    routing::{self, MethodRouter},
};
use domain::fleet::{Fluid, Instrument, Role};
use storage::access::Form;
use tower_http::{catch_panic::CatchPanicLayer, compression::CompressionLayer, csrf::CsrfLayer};

use crate::{
    AppState, BODY_LIMIT, WebError, answer, asset, board, body, book_check, checking, corrosion,
    desk::{self, Asked, Who},
    due, error, health, help, instrument, intake, job, key_figure, label, laboratory, leak,
    own_name, person, policy, record, retrofit, screen_size, setting,
    sign_on::{enter, own_password, prove, set_up, stay, tablet as enrolling},
    stock, tablet, unit, vessel, waiting, waste, winter,
};

use Role::{Administrator, ComplianceOfficer, LeadHand, Manager, Reader, Technician};

/// Those who see a shop's coolant. An administrator runs the server and does not touch the record.
const SEE: Who = Who::Roles(&[Technician, LeadHand, Manager, ComplianceOfficer, Reader]);
/// Those who log jobs.
const WORK: Who = Who::Roles(&[Technician, LeadHand, Manager]);
/// Those who may put a card right, with a reason.
const LEAD: Who = Who::Roles(&[LeadHand, Manager]);
/// Those who run a shop.
const MANAGE: Who = Who::Roles(&[Manager]);

/// Those who look after waste containers.
const LOOK_AFTER: Who = Who::Roles(&[Technician, LeadHand, Manager, ComplianceOfficer]);

/// Those who look at how a shop does as a whole.
const LOOK_BACK: Who = Who::Roles(key_figure::ROLES);

/// Those who take a laboratory's results in from its file.
const TAKE_IN: Who = Who::Roles(laboratory::MAY_TAKE_IN);

/// Those who decide what becomes of fluid.
const DECIDE: Who = Who::Roles(&[Manager, ComplianceOfficer]);

/// Those who sign for what leaves the site.
const SIGN: Who = Who::Roles(&[ComplianceOfficer]);

/// Those who may take a job back; whose, and until when, the page judges.
const TAKE_BACK: Who = Who::Roles(&[Technician, LeadHand, Manager, ComplianceOfficer]);
/// Those who may be asked, and those who answer.
const ANSWER: Who = Who::Roles(&[Technician, LeadHand, Manager, ComplianceOfficer]);
/// Those who answer what looks odd.
const CHECK: Who = Who::Roles(&[LeadHand, Manager, ComplianceOfficer]);

/// Those who start the checks of the book.
const CHECK_BOOK: Who = Who::Roles(&[Manager, ComplianceOfficer, Administrator]);

/// Those who see who works here; a lead hand, to issue a new PIN.
const SEE_PEOPLE: Who = Who::Roles(&[LeadHand, Manager, Administrator]);
/// Those who run the server.
const RUN: Who = Who::Roles(&[Administrator]);
/// Those who run a shop's people and settings; whom of them, and as what, the page judges.
const LET_IN: Who = Who::Roles(&[Manager, Administrator]);

/// One address for one method.
struct Entry {
    method: Method,
    path: &'static str,
    who: Who,
    handler: MethodRouter<AppState>,
}

/// What one route asks for, for tests and for people who want to see the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Permission {
    /// "GET" or "POST".
    pub method: &'static str,
    /// The pattern of the address.
    pub path: &'static str,
    /// The roles it is for.
    pub roles: For,
}

/// Whom a route is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum For {
    Anybody,
    Program,
    Tablet,
    SignedOn,
    Roles(&'static [Role]),
}

fn get<H: Handler<T, AppState>, T: 'static>(path: &'static str, who: Who, handler: H) -> Entry {
    Entry {
        method: Method::GET,
        path,
        who,
        handler: routing::get(handler),
    }
}

fn post<H: Handler<T, AppState>, T: 'static>(path: &'static str, who: Who, handler: H) -> Entry {
    Entry {
        method: Method::POST,
        path,
        who,
        handler: routing::post(handler),
    }
}

/// The whole site.
pub fn router(state: AppState) -> Router {
    let table = guarded(table(), &state);
    with_common_layers(table, state)
}

/// The table, without its handlers.
pub fn permissions() -> Vec<Permission> {
    table()
        .iter()
        .map(|entry| Permission {
            method: if entry.method == Method::POST {
                "POST"
            } else {
                "GET"
            },
            path: entry.path,
            roles: match entry.who {
                Who::Anybody => For::Anybody,
                Who::Program => For::Program,
                Who::Tablet => For::Tablet,
                Who::SignedOn => For::SignedOn,
                Who::Roles(roles) => For::Roles(roles),
            },
        })
        .collect()
}

fn table() -> Vec<Entry> {
    let mut table = Vec::new();
    table.extend(open_to_all());
    table.extend(signing_on());
    table.extend(jobs());
    table.extend(vessels());
    table.extend(waste());
    table.extend(units());
    table.extend(told());
    table.extend(people());
    table.extend(settings());
    table
}

fn open_to_all() -> Vec<Entry> {
    vec![
        get("/healthz", Who::Anybody, health::alive),
        get("/readyz", Who::Anybody, health::ready),
        get("/problems/{slug}", Who::Anybody, error::explain),
        get("/static/{name}", Who::Anybody, asset::serve),
        get("/worker.js", Who::Anybody, asset::serve_worker),
        post("/api/v1/jobs", Who::Program, intake::post),
        post("/tablet/jobs", Who::Tablet, waiting::intake::post),
        post("/tablet/contact", Who::Tablet, waiting::contact::post),
        Entry {
            method: Method::POST,
            path: waiting::photo::ADDRESS,
            who: Who::Tablet,
            handler: routing::post(waiting::photo::post)
                .layer(DefaultBodyLimit::max(body::PHOTO_LIMIT)),
        },
        get("/tablet/list", Who::Tablet, waiting::list::show),
        get("/help", Who::Anybody, help::show),
        get("/waiting", Who::Anybody, waiting::show),
        get("/offline", Who::Anybody, waiting::show_offline),
        post("/look", Who::Anybody, stay::choose_look),
        get("/screen-size", Who::Anybody, screen_size::show),
        post("/screen-size", Who::Anybody, screen_size::submit),
        get("/", Who::SignedOn, board::show),
        get("/board/{what}", SEE, board::show_list),
    ]
}

fn signing_on() -> Vec<Entry> {
    vec![
        get("/set-up", Who::Anybody, set_up::show),
        post("/set-up", Who::Anybody, set_up::submit),
        get("/sign-on", Who::Anybody, enter::show),
        post("/sign-on", Who::Anybody, enter::enter),
        post("/sign-off", Who::Anybody, stay::sign_off),
        get("/tablets/enrol", Who::Anybody, enrolling::show),
        post("/tablets/enrol", Who::Anybody, enrolling::enrol),
        post("/session/stay", Who::SignedOn, stay::stay),
        get("/prove", Who::SignedOn, prove::show),
        post("/prove", Who::SignedOn, prove::prove),
        get("/own-password", Who::SignedOn, own_password::show),
        post("/own-password", Who::SignedOn, own_password::submit),
        get("/shops", Who::SignedOn, stay::show_shops),
        post("/shops", Who::SignedOn, stay::choose_shop),
    ]
}

fn jobs() -> Vec<Entry> {
    vec![
        get("/offline/jobs/{kind}", WORK, job::write::show_offline),
        get("/units/{unit}/jobs", WORK, job::kinds::show_on_unit),
        get("/units/{unit}/plans", SEE, job::plan::show_list),
        get("/units/{unit}/plans/{kind}", SEE, job::plan::show),
        get("/vessels/{vessel}/jobs", WORK, job::kinds::show_on_vessel),
        get("/units/{unit}/jobs/{kind}", WORK, job::write::show_on_unit),
        post(
            "/units/{unit}/jobs/{kind}",
            WORK,
            job::write::submit_on_unit,
        ),
        get(
            "/vessels/{vessel}/jobs/{kind}",
            WORK,
            job::write::show_on_vessel,
        ),
        post(
            "/vessels/{vessel}/jobs/{kind}",
            WORK,
            job::write::submit_on_vessel,
        ),
    ]
}

fn vessels() -> Vec<Entry> {
    vec![
        get("/vessels", SEE, vessel::show_list),
        get("/vessels/new", MANAGE, vessel::show_new),
        post("/vessels/new", MANAGE, vessel::submit_new),
        get("/vessels/{vessel}/edit", MANAGE, vessel::show_edit),
        post("/vessels/{vessel}/edit", MANAGE, vessel::submit_edit),
        get("/vessels/{vessel}", SEE, vessel::show),
        get("/vessels/{vessel}/retire", MANAGE, vessel::show_retire),
        post("/vessels/{vessel}/retire", MANAGE, vessel::submit_retire),
        get("/vessels/{vessel}/decide", DECIDE, vessel::show_decide),
        post("/vessels/{vessel}/decide", DECIDE, vessel::submit_decide),
    ]
}

/// What a site's waste comes to, and what is stated of it.
fn waste() -> Vec<Entry> {
    const CONTAINER: &str = "/vessels/{vessel}/container";
    const DETERMINATION: &str = "/waste/determination";
    vec![
        get("/waste", SEE, waste::show),
        get("/waste/lines", SEE, waste::show_lines),
        get("/waste/lines.csv", SEE, waste::lines_csv),
        get("/waste/months.csv", SEE, waste::months_csv),
        get("/waste/close", SEE, waste::show_close),
        post("/waste/close", SIGN, waste::submit_close),
        get("/waste/year", SEE, waste::show_year),
        get("/waste/streams.csv", SEE, waste::streams_csv),
        get("/waste/looks", SEE, waste::show_looks),
        get("/waste/looks.csv", SEE, waste::looks_csv),
        get("/waste/containers", SEE, waste::show_containers),
        get("/waste/containers.csv", SEE, waste::containers_csv),
        get("/waste/determinations", SEE, waste::show_determinations),
        get("/waste/determinations.csv", SEE, waste::determinations_csv),
        get("/waste/rules", DECIDE, waste::show_rules),
        post("/waste/rules", DECIDE, waste::submit_rules),
        get("/waste/other", DECIDE, waste::show_other),
        post("/waste/other", DECIDE, waste::submit_other),
        get(DETERMINATION, DECIDE, waste::show_determination),
        post(DETERMINATION, DECIDE, waste::submit_determination),
        get(CONTAINER, LOOK_AFTER, waste::show_entry),
        post(CONTAINER, LOOK_AFTER, waste::submit_entry),
        get("/vessels/{vessel}/label", LOOK_AFTER, waste::show_label),
    ]
}

fn units() -> Vec<Entry> {
    const RESULTS: &str = "/laboratory/file";
    vec![
        get("/units", SEE, unit::show_list),
        get("/units/new", MANAGE, unit::show_new),
        post("/units/new", MANAGE, unit::submit_new),
        get("/units/{unit}", SEE, unit::show),
        get("/units/{unit}/edit", LEAD, unit::show_edit),
        post("/units/{unit}/edit", LEAD, unit::submit_edit),
        get("/units/{unit}/retire", MANAGE, unit::show_retire),
        post("/units/{unit}/retire", MANAGE, unit::submit_retire),
        get("/labels", LEAD, label::show),
        get("/retrofit", SEE, retrofit::show),
        get("/retrofit.csv", SEE, retrofit::show_csv),
        get("/leaks", SEE, leak::show_list),
        get("/units/{unit}/leaks", SEE, leak::case::show),
        get("/units/{unit}/nothing-found", WORK, leak::look::show),
        post("/units/{unit}/nothing-found", WORK, leak::look::submit),
        get("/jobs-today", SEE, board::show_jobs),
        get("/open-questions", SEE, board::show_questions),
        get("/due", SEE, due::show),
        get("/units/{unit}/put-off", LEAD, due::put_off::show),
        post("/units/{unit}/put-off", LEAD, due::put_off::submit),
        get("/corrosion", SEE, corrosion::show),
        get("/policy", SEE, policy::show),
        get("/laboratory", SEE, laboratory::show),
        get(RESULTS, TAKE_IN, laboratory::take_in::show),
        post(RESULTS, TAKE_IN, laboratory::take_in::submit),
        get("/figures", LOOK_BACK, key_figure::show),
        get("/figures/{what}", LOOK_BACK, key_figure::show_behind),
        get("/figures/{what}/months", LOOK_BACK, key_figure::show_trend),
        get("/stock", LOOK_BACK, stock::show),
        get("/winter", SEE, winter::show),
        get("/winter/plan", SEE, winter::plan::show),
        get("/u/{code}", SEE, label::find::follow),
    ]
}

/// Who works here.
fn people() -> Vec<Entry> {
    vec![
        get("/people", SEE_PEOPLE, person::show_list),
        get("/people/new", LET_IN, person::show_new),
        post("/people/new", LET_IN, person::submit_new),
        get("/people/{person}", SEE_PEOPLE, person::show),
        get("/people/{person}/edit", LET_IN, person::show_edit),
        post("/people/{person}/edit", LET_IN, person::submit_edit),
        get("/people/{person}/roles", LET_IN, person::show_roles),
        post("/people/{person}/roles", LET_IN, person::submit_roles),
        post("/people/{person}/pin", SEE_PEOPLE, person::issue_pin),
        post("/people/{person}/badge", LET_IN, person::issue_badge),
        post("/people/{person}/password", LET_IN, person::issue_password),
        get("/people/{person}/leave", LET_IN, person::show_leave),
        post("/people/{person}/leave", LET_IN, person::submit_leave),
        post("/people/{person}/remove-name", LET_IN, person::remove_name),
        get("/waiting/import", LEAD, waiting::import::show),
        post("/waiting/import", LEAD, waiting::import::submit),
        get("/tablets", SEE_PEOPLE, tablet::show),
        post("/tablets", LET_IN, tablet::offer),
        post("/tablets/{tablet}/revoke", SEE_PEOPLE, tablet::revoke),
        post("/tablets/{tablet}/let-on", LET_IN, tablet::let_on),
        post("/tablets/{tablet}/lost", LET_IN, tablet::settle_lost),
        get("/security", LET_IN, setting::show_security),
    ]
}

/// What a shop is set to.
fn settings() -> Vec<Entry> {
    const FLUID: &str = "/settings/fluids/{fluid}/edit";
    const ZERO: &str = "/instruments/{instrument}/zero";
    const INSTRUMENT: &str = "/settings/instruments/{instrument}/edit";
    vec![
        get("/settings", LET_IN, setting::show),
        get("/settings/shop", LET_IN, setting::show_shop),
        post("/settings/shop", LET_IN, setting::submit_shop),
        get("/settings/shops/new", RUN, setting::show_new_shop),
        post("/settings/shops/new", RUN, setting::submit_new_shop),
        get(ZERO, WORK, instrument::show),
        post(ZERO, WORK, instrument::submit),
        get("/settings/fluids", LET_IN, setting::show_list::<Fluid>),
        get("/settings/fluids/new", LET_IN, setting::show_new::<Fluid>),
        post("/settings/fluids/new", LET_IN, setting::submit_new::<Fluid>),
        get(FLUID, LET_IN, setting::show_edit::<Fluid>),
        post(FLUID, LET_IN, setting::submit_edit::<Fluid>),
        get(
            "/settings/instruments",
            LET_IN,
            setting::show_list::<Instrument>,
        ),
        get(
            "/settings/instruments/new",
            LET_IN,
            setting::show_new::<Instrument>,
        ),
        post(
            "/settings/instruments/new",
            LET_IN,
            setting::submit_new::<Instrument>,
        ),
        get(INSTRUMENT, LET_IN, setting::show_edit::<Instrument>),
        post(INSTRUMENT, LET_IN, setting::submit_edit::<Instrument>),
    ]
}

/// What was recorded, what is asked about it, and the trail.
fn told() -> Vec<Entry> {
    const REMOVE_PHOTO: &str = "/jobs/{job}/photos/{photo}/remove";
    vec![
        get("/jobs/{job}", SEE, job::show::show),
        post("/jobs/{job}/undo", WORK, job::void::undo),
        get("/jobs/{job}/void", TAKE_BACK, job::void::show),
        post("/jobs/{job}/void", TAKE_BACK, job::void::submit),
        get("/jobs/{job}/correct", WORK, job::correct::show),
        post("/jobs/{job}/sign", SIGN, job::sign::submit),
        get(job::photo::ADDRESS, WORK, job::photo::show),
        Entry {
            method: Method::POST,
            path: job::photo::ADDRESS,
            who: WORK,
            handler: routing::post(job::photo::submit)
                .layer(DefaultBodyLimit::max(body::PHOTO_LIMIT)),
        },
        get("/jobs/{job}/photos/{photo}", SEE, job::photo::serve),
        get(REMOVE_PHOTO, TAKE_BACK, job::photo::remove::show),
        post(REMOVE_PHOTO, TAKE_BACK, job::photo::remove::submit),
        get("/checking", CHECK, checking::show),
        post("/checking", ANSWER, checking::submit),
        post("/checking/ask", CHECK, checking::ask),
        get("/asked", ANSWER, checking::show_own),
        post("/asked", ANSWER, checking::answer_own),
        get("/records", SEE, record::list::show),
        get("/records/{seq}", SEE, record::show::show),
        get(
            "/book-check",
            Who::Roles(book_check::ROLES),
            book_check::show,
        ),
        post("/book-check", CHECK_BOOK, book_check::run),
    ]
}

/// Each route behind its guard. A page whose own address also takes a form is one on which
/// something may be half typed.
fn guarded(table: Vec<Entry>, state: &AppState) -> Router<AppState> {
    let with_form: HashSet<&str> = table
        .iter()
        .filter(|entry| entry.method == Method::POST)
        .map(|entry| entry.path)
        .collect();
    table.into_iter().fold(Router::new(), |router, entry| {
        let asked = Asked {
            state: state.clone(),
            who: entry.who,
            form: if with_form.contains(entry.path) {
                Form::Open
            } else {
                Form::Closed
            },
        };
        let guard = middleware::from_fn_with_state(asked, desk::guard);
        router.route(entry.path, entry.handler.route_layer(guard))
    })
}

/// What holds for every address, known or not. The last layer added is the outermost.
fn with_common_layers(table: Router<AppState>, state: AppState) -> Router {
    table
        .fallback(async || WebError::NotFound)
        .method_not_allowed_fallback(async || WebError::MethodNotAllowed)
        .layer(DefaultBodyLimit::max(BODY_LIMIT))
        .layer(middleware::from_fn(body::read_whole))
        .layer(middleware::from_fn(answer::in_time))
        .layer(CatchPanicLayer::custom(answer::after_panic))
        .layer(CsrfLayer::new())
        .layer(middleware::from_fn_with_state(
            state.clone(),
            own_name::check,
        ))
        .layer(middleware::from_fn_with_state(
            state.clone(),
            answer::complete,
        ))
        .layer(CompressionLayer::new())
        .with_state(state)
}

#[cfg(test)]
mod tests {
    use axum::{
        Json, Router,
        body::{Body, to_bytes},
        http::{Request, Response, StatusCode, header},
        routing::{get, post},
    };
    use std::sync::Arc;

    use domain::moment::Moment;
    use serde_json::Value;
    use storage::{Options, Store, access::Access};
    use tower::ServiceExt;

    use super::{guarded, open_to_all, with_common_layers};
    use crate::{
        AppState, BODY_LIMIT, Checking, Clock, Enrolments, FieldProblem, Readiness, SetUp,
        Transport, WebError,
    };

    async fn site() -> Router {
        let folder = tempfile::tempdir().unwrap();
        let now = || Moment::from(Clock::system().now());
        let options = Options::new(folder.path(), Arc::new(now), Arc::new(|_| ()));
        let state = AppState {
            store: Store::open(options).await.unwrap(),
            access: Access::open(folder.path(), now()).await.unwrap(),
            set_up: SetUp::closed(),
            enrolments: Enrolments::default(),
            checking: Checking::default(),
            upkeep: crate::Upkeep::default(),
            clock: Clock::system(),
            mark: "",
            readiness: Readiness::follow(async || Ok::<(), String>(())).await,
            transport: Transport::OwnTls,
            api_token: None,
        };
        let table = Router::new()
            .route(
                "/panics",
                get(async || -> &'static str { panic!("a secret cause") }),
            )
            .route(
                "/fails",
                get(async || -> WebError { WebError::fault("a secret cause") }),
            )
            .route("/reads", post(async |Json(_): Json<Value>| "read"))
            .route(
                "/refuses",
                get(async || WebError::Refused {
                    detail: "the cart holds 30.0 L, less than the 31.0 L asked for".to_owned(),
                    problems: vec![FieldProblem {
                        field: "volume".to_owned(),
                        found: None,
                        problem: "<31.0 L>".to_owned(),
                    }],
                }),
            );
        let table = table.merge(guarded(open_to_all(), &state));
        with_common_layers(table, state)
    }

    async fn answer(request: Request<Body>) -> (Response<()>, String) {
        let (parts, body) = site().await.oneshot(request).await.unwrap().into_parts();
        let bytes = to_bytes(body, usize::MAX).await.unwrap();
        (
            Response::from_parts(parts, ()),
            String::from_utf8(bytes.to_vec()).unwrap(),
        )
    }

    fn json(method: &str, path: &str, body: impl Into<Body>) -> Request<Body> {
        Request::builder()
            .method(method)
            .uri(path)
            .header(header::ACCEPT, "application/json")
            .header(header::CONTENT_TYPE, "application/json")
            .body(body.into())
            .unwrap()
    }

    #[tokio::test]
    async fn a_handler_that_panics_or_fails_is_told_as_our_fault_without_its_cause() {
        for path in ["/panics", "/fails"] {
            let (head, body) = answer(json("GET", path, "")).await;
            assert_eq!(head.status(), StatusCode::INTERNAL_SERVER_ERROR);
            assert_eq!(
                head.headers()[header::CONTENT_TYPE],
                "application/problem+json"
            );
            let problem: Value = serde_json::from_str(&body).unwrap();
            let id = head.headers()["x-request-id"].to_str().unwrap();
            assert_eq!(problem["instance"], format!("urn:uuid:{id}"));
            assert_eq!(problem["type"], "/problems/our-fault");
            assert!(!body.contains("secret"));
        }
    }

    #[tokio::test]
    async fn a_refusal_carries_every_field_in_json_and_on_the_page() {
        let (head, body) = answer(json("GET", "/refuses", "")).await;
        assert_eq!(head.status(), StatusCode::UNPROCESSABLE_ENTITY);
        let problem: Value = serde_json::from_str(&body).unwrap();
        assert_eq!(problem["problems"][0]["field"], "volume");

        let page = Request::get("/refuses")
            .header(header::ACCEPT, "text/html")
            .body(Body::empty())
            .unwrap();
        let (_, body) = answer(page).await;
        assert!(body.contains("The cart holds 30.0 L, less than the 31.0 L asked for."));
        assert!(body.contains("volume: &#60;31.0 L&#62;"));
    }

    #[tokio::test]
    async fn what_a_library_refuses_is_told_in_our_words() {
        let (head, body) = answer(json("POST", "/reads", "{")).await;
        assert_eq!(head.status(), StatusCode::BAD_REQUEST);
        assert_eq!(
            serde_json::from_str::<Value>(&body).unwrap()["type"],
            "/problems/not-readable"
        );
    }

    #[tokio::test]
    async fn a_body_of_exactly_the_limit_is_read_and_one_byte_more_is_too_large() {
        let text = |length: usize| format!("\"{}\"", "x".repeat(length - 2));
        let (head, _) = answer(json("POST", "/reads", text(BODY_LIMIT))).await;
        assert_eq!(head.status(), StatusCode::OK);
        let (head, body) = answer(json("POST", "/reads", text(BODY_LIMIT + 1))).await;
        assert_eq!(head.status(), StatusCode::PAYLOAD_TOO_LARGE);
        assert_eq!(
            serde_json::from_str::<Value>(&body).unwrap()["type"],
            "/problems/body-too-large"
        );
    }

    #[tokio::test]
    async fn a_wrong_method_is_told_which_ones_are_taken() {
        let (head, body) = answer(json("DELETE", "/healthz", "")).await;
        assert_eq!(head.status(), StatusCode::METHOD_NOT_ALLOWED);
        assert_eq!(head.headers()[header::ALLOW], "GET,HEAD");
        assert_eq!(
            serde_json::from_str::<Value>(&body).unwrap()["type"],
            "/problems/method-not-allowed"
        );
    }

    #[tokio::test]
    async fn every_problem_kind_has_a_page_that_explains_it() {
        for slug in [
            "not-readable",
            "not-found",
            "method-not-allowed",
            "body-too-slow",
            "body-too-large",
            "refused",
            "key-used-for-another-job",
            "not-json",
            "not-a-form",
            "not-allowed",
            "other-site",
            "token-needed",
            "token-not-set-up",
            "misdirected",
            "our-fault",
            "not-confirmed",
        ] {
            let path = format!("/problems/{slug}");
            let (head, _) = answer(Request::get(path).body(Body::empty()).unwrap()).await;
            assert_eq!(head.status(), StatusCode::OK, "{slug}");
        }
        let (head, _) = answer(Request::get("/problems/none").body(Body::empty()).unwrap()).await;
        assert_eq!(head.status(), StatusCode::NOT_FOUND);
    }
}
