//! Every address of the site, in one table.

use axum::{
    Router,
    extract::DefaultBodyLimit,
    middleware,
    routing::{get, post},
};
use tower_http::catch_panic::CatchPanicLayer;

use crate::{AppState, BODY_LIMIT, WebError, answer, body, error, health, home, intake, own_name};

/// The whole site.
pub fn router(state: AppState) -> Router {
    with_common_layers(table(), state)
}

fn table() -> Router<AppState> {
    Router::new()
        .route("/", get(home::show))
        .route("/healthz", get(health::alive))
        .route("/readyz", get(health::ready))
        .route("/problems/{slug}", get(error::explain))
        .route("/api/v1/jobs", post(intake::post))
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
        .layer(middleware::from_fn_with_state(
            state.clone(),
            own_name::check,
        ))
        .layer(middleware::from_fn_with_state(
            state.clone(),
            answer::complete,
        ))
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
    use storage::{Options, Store};
    use tower::ServiceExt;

    use super::with_common_layers;
    use crate::{AppState, BODY_LIMIT, Clock, FieldProblem, Readiness, Transport, WebError};

    async fn site() -> Router {
        let folder = tempfile::tempdir().unwrap();
        let now = || Moment::from(Clock::system().now());
        let options = Options::new(folder.path(), Arc::new(now), Arc::new(|_| ()));
        let state = AppState {
            store: Store::open(options).await.unwrap(),
            clock: Clock::system(),
            mark: "",
            readiness: Readiness::follow(async || Ok::<(), String>(())).await,
            transport: Transport::OwnTls,
            api_token: None,
        };
        let table = super::table()
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
        assert!(body.contains("volume: &lt;31.0 L&gt;"));
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
