//! The page: a server for this machine, and for paired devices where the owner shares it, and what it answers.

mod answer;
mod book;
mod desk;
mod drift;
mod feed;
mod files;
mod floor;
mod guard;
mod history;
mod incoming;
mod place;
mod project;
mod rehearsal;
mod remember;
mod share;
mod work;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use arcwright_model::finding::Finding;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware;
use axum::routing::{get, post};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;

pub use desk::Desk;
pub use place::Place;

/// Physical: a project file or a request is never larger.
const LARGEST_BODY_COUNT: usize = 1 << 20;

/// Physical: two robot's logs of 20 MB, as large as the page sends them, with what their letters need as JSON.
const LARGEST_FILES_COUNT: usize = 64 << 20;

/// How to serve.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Port on this machine; 0 for any that is free.
    pub port: u16,
    /// Answer to devices on the local network that the owner has paired.
    pub share: bool,
    /// Serve the page's files from this folder in place of those built in, for work on the page.
    pub files_from: Option<PathBuf>,
}

/// What every route can reach.
#[derive(Clone)]
pub struct Shared {
    desk: Arc<Desk>,
    /// One permit for each computation that may run at a time.
    lanes: Arc<Semaphore>,
    /// The same for what takes longer than a drag can wait.
    slow_lanes: Arc<Semaphore>,
    files_from: Option<PathBuf>,
    port: u16,
    is_shared: bool,
    guests: Arc<share::Guests>,
    rehearsal: Arc<Mutex<Option<rehearsal::Held>>>,
    feed: Arc<Mutex<feed::Held>>,
    next: Arc<floor::Advice>,
}

fn router(shared: Shared) -> Router {
    Router::new()
        .route("/api/v1/project", get(project::view))
        .route("/api/v1/project/edit", post(project::edit))
        .route("/api/v1/project/text", post(project::put_text))
        .route("/api/v1/project/undo", post(project::undo))
        .route("/api/v1/project/redo", post(project::redo))
        .route("/api/v1/project/demo", post(project::demo))
        .route("/api/v1/project/keep", post(project::keep))
        .route("/api/v1/project/begin", post(project::begin))
        .route("/api/v1/work", post(work::work))
        .route("/api/v1/floor", get(floor::view))
        .route("/api/v1/floor/shots", post(floor::log))
        .route("/api/v1/floor/undo", post(floor::undo))
        .route("/api/v1/floor/fit", get(floor::fit).post(floor::keep_fit))
        .route("/api/v1/floor/next", get(floor::next))
        .route(
            "/api/v1/floor/drift",
            get(drift::view)
                .post(drift::compare_logs)
                .layer(DefaultBodyLimit::max(LARGEST_FILES_COUNT)),
        )
        .route(
            "/api/v1/floor/incoming",
            post(incoming::look).layer(DefaultBodyLimit::max(LARGEST_FILES_COUNT)),
        )
        .route(
            "/api/v1/floor/rehearsal",
            get(rehearsal::view).post(rehearsal::start),
        )
        .route("/api/v1/floor/rehearsal/step", post(rehearsal::step))
        .route("/api/v1/floor/rehearsal/proof", post(rehearsal::proof))
        .route("/api/v1/feed", get(feed::view))
        .route("/api/v1/feed/play", post(feed::play))
        .route("/api/v1/feed/stop", post(feed::stop))
        .route("/api/v1/feed/apply", post(feed::apply))
        .route("/api/v1/feed/replay", post(feed::look))
        .route("/api/v1/feed/measure", get(feed::guides).post(feed::measure))
        .route("/api/v1/card", get(book::pit_card))
        .route("/api/v1/book", post(book::view))
        .route("/api/v1/book/pdf", post(book::pdf))
        .route(
            "/api/v1/book/notes",
            get(book::notes)
                .post(book::add_note)
                .layer(DefaultBodyLimit::max(LARGEST_FILES_COUNT)),
        )
        .route("/api/v1/history", get(history::view).post(history::keep))
        .route("/api/v1/history/compare", get(history::compare))
        .route("/api/v1/draw", get(book::templates))
        .route("/api/v1/hand", get(book::hand_over))
        .route("/api/v1/pair", post(share::pair))
        .route("/api/v1/share", get(share::view))
        .route("/api/v1/share/me", get(share::me))
        .route("/api/v1/share/code", post(share::code))
        .route("/api/v1/share/end", post(share::end))
        .route("/api/v1/news", get(project::news))
        .route("/api/v1/openapi.json", get(files::openapi))
        .fallback(files::file)
        .layer(DefaultBodyLimit::max(LARGEST_BODY_COUNT))
        .layer(middleware::from_fn_with_state(shared.clone(), guard::guard))
        .with_state(shared)
}

/// A server that has its port and is ready to answer.
pub struct Ready {
    runtime: tokio::runtime::Runtime,
    listener: TcpListener,
    app: Router,
    desk: Arc<Desk>,
    /// Where it answers on this machine.
    pub address: SocketAddr,
}

/// Is a port of this machine free?
pub fn is_free(port: u16) -> bool {
    std::net::TcpListener::bind(("127.0.0.1", port)).is_ok()
}

/// Takes the port; [`Ready::serve`] then answers.
///
/// # Errors
/// `no-port` when the port is taken, or a refusal of the system.
pub fn start(desk: Desk, options: Options) -> Result<Ready, Finding> {
    let trouble = |e: std::io::Error| {
        Finding::new(
            "no-port",
            format!("port {}", options.port),
            format!("the page cannot be served there: {e}"),
            "give another port with --port, or --port 0 for any that is free",
        )
    };
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_io()
        .enable_time()
        .build()
        .map_err(trouble)?;
    let listener = runtime
        .block_on(TcpListener::bind((
            if options.share { "0.0.0.0" } else { "127.0.0.1" },
            options.port,
        )))
        .map_err(trouble)?;
    let port = listener.local_addr().map_err(trouble)?.port();
    let desk = Arc::new(desk);
    let lanes = std::thread::available_parallelism().map_or(2, usize::from);
    let app = router(Shared {
        desk: desk.clone(),
        lanes: Arc::new(Semaphore::new(lanes)),
        slow_lanes: Arc::new(Semaphore::new(lanes)),
        files_from: options.files_from,
        port,
        is_shared: options.share,
        guests: Arc::default(),
        rehearsal: Arc::default(),
        feed: Arc::default(),
        next: Arc::default(),
    });
    Ok(Ready {
        runtime,
        listener,
        app,
        desk,
        address: SocketAddr::from(([127, 0, 0, 1], port)),
    })
}

impl Ready {
    /// Removes what is not to outlive the program, for when it is broken off.
    pub fn clears(&self) -> impl Fn() + Send + 'static {
        let desk = self.desk.clone();
        move || desk.clear()
    }

    /// Answers until the program ends.
    ///
    /// # Errors
    /// A refusal of the system.
    pub fn serve(self) -> Result<(), Finding> {
        let Ready {
            runtime,
            listener,
            app,
            desk,
            ..
        } = self;
        runtime.spawn(watch(desk));
        runtime
            .block_on(async move {
                let app = app.into_make_service_with_connect_info::<SocketAddr>();
                axum::serve(listener, app).await
            })
            .map_err(|e| {
                Finding::new(
                    "no-port",
                    "page",
                    format!("the page stopped: {e}"),
                    "start it again; nothing is lost",
                )
            })
    }
}

/// Looks for changes of the file and the log that other programs make.
async fn watch(desk: Arc<Desk>) {
    /// Method: soon enough for a person who has just saved the file.
    const EVERY: Duration = Duration::from_millis(700);
    let mut last = None;
    loop {
        tokio::time::sleep(EVERY).await;
        let desk = desk.clone();
        let state = tokio::task::spawn_blocking(move || {
            let stamp = |p: PathBuf| {
                let about = std::fs::metadata(p).ok()?;
                Some((about.modified().ok()?, about.len()))
            };
            drop(desk.view());
            let log = desk.log_path().ok();
            let beside = log
                .clone()
                .map(|p| p.with_file_name(format!("{}-wal", crate::store::FILE_NAME)));
            let now = (log.and_then(stamp), beside.and_then(stamp));
            if last.is_some_and(|l| l != now) {
                desk.tell();
            }
            now
        });
        last = state.await.ok();
    }
}
