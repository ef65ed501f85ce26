//! GET /help: what the product does, in plain words.

use askama::Template;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;

use crate::component::{Shape, Status};
use crate::desk::{Cookies, Frame};
use crate::{AppState, page};

#[derive(Template)]
#[template(path = "help.html")]
struct HelpPage {
    frame: Frame,
    shapes: Vec<(Status, &'static str)>,
}

pub(crate) async fn show(State(state): State<AppState>, headers: HeaderMap) -> Response {
    let look = Cookies::of(&headers, &state.transport).look();
    let mut frame = Frame::bare("Help", state.mark, look);
    "/help".clone_into(&mut frame.here);
    page::shown(&HelpPage {
        frame,
        shapes: shapes(),
    })
}

fn shapes() -> Vec<(Status, &'static str)> {
    let row = |shape, word: &str, meaning| (Status::new(shape, word), meaning);
    vec![
        row(Shape::Good, "Circle", "good as it is"),
        row(Shape::Watch, "Triangle", "look at it soon"),
        row(
            Shape::Stop,
            "Octagon",
            "stop: do not release, do not open, do not fill",
        ),
        row(
            Shape::Wait,
            "Clock",
            "waits for something: to be sent, to be judged, to be worked out again",
        ),
        row(
            Shape::Nothing,
            "Diamond",
            "nothing is known, such as a loop without a test",
        ),
    ]
}
