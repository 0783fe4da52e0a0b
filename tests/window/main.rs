//! The real window under a screen of its own, driven by mouse and keyboard as a person would: opened, a
//! fitting chosen, the outlet turned by the bearing ring, two steps played, a section cut, closed.
//!
//! What the window tells of a placement is held against what `fitup` finds there, asked from outside of
//! the window. Needs Xvfb and xdotool, which `tests/run` installs, and a Vulkan driver.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use assembly::Edit;
use fitup::Scene;
use intake::{read_case, read_kit};
use measure::{Angle, LengthUnit};
use review::{Request, review};
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use tryout::{Bests, edited, recheck, words};

/// The most that anything may take: a software driver and a debug build on a busy machine.
const PATIENCE: Duration = Duration::from_mins(4);

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

/// A screen that nobody sees.
struct Screen {
    server: Child,
    name: String,
}

impl Screen {
    fn new() -> Self {
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1280x800x24", "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb is missing: tests/run installs it");
        let mut told = [0_u8; 16];
        let length = server.stdout.as_mut().unwrap().read(&mut told).unwrap();
        let number = String::from_utf8_lossy(&told[..length]).trim().to_owned();
        assert!(!number.is_empty(), "Xvfb names its screen");
        Self { server, name: format!(":{number}") }
    }

    fn xdotool(&self, args: &[&str]) -> String {
        let output = Command::new("xdotool")
            .args(args)
            .env("DISPLAY", &self.name)
            .output()
            .expect("xdotool is missing: tests/run installs it");
        assert!(output.status.success(), "xdotool {args:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// The window, with every line that it tells.
struct Window<'s> {
    screen: &'s Screen,
    program: Child,
    lines: Receiver<String>,
    heard: Vec<String>,
}

impl<'s> Window<'s> {
    fn open(screen: &'s Screen, state: &Path, args: &[&str]) -> Self {
        let mut program = Command::new(env!("CARGO_BIN_EXE_overcup-view"))
            .arg("show")
            .args(args)
            .arg("--tell")
            .env("DISPLAY", &screen.name)
            .env("XDG_STATE_HOME", state)
            .env_remove("WAYLAND_DISPLAY")
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let out = BufReader::new(program.stdout.take().unwrap());
        let (tells, lines) = channel();
        std::thread::spawn(move || {
            for line in out.lines() {
                let Ok(line) = line else { return };
                let _ = tells.send(line);
            }
        });
        Self { screen, program, lines, heard: Vec::new() }
    }

    /// Waits for a line of which something is said; of those that come from now on.
    fn hear(&mut self, what: &str, is_it: impl Fn(&str) -> bool) -> String {
        let until = Instant::now() + PATIENCE;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) => {
                    self.heard.push(line.clone());
                    if is_it(&line) {
                        return line;
                    }
                }
                Err(error) => panic!("{what} was not told ({error}); told was {:#?}", self.heard),
            }
        }
    }

    /// Everything that is told until it is quiet for so long.
    fn quiet(&mut self, seconds: u64) -> Vec<String> {
        let mut all = Vec::new();
        while let Ok(line) = self.lines.recv_timeout(Duration::from_secs(seconds)) {
            self.heard.push(line.clone());
            all.push(line);
        }
        all
    }

    fn key(&self, key: &str) {
        self.screen.xdotool(&["key", key]);
    }

    /// A key while Ctrl is held, as long as a hand does.
    fn with_ctrl(&self, key: &str) {
        self.screen.xdotool(&["keydown", "ctrl"]);
        std::thread::sleep(Duration::from_secs(2));
        self.key(key);
        std::thread::sleep(Duration::from_secs(2));
        self.screen.xdotool(&["keyup", "ctrl"]);
    }

    fn focus(&self) {
        let found =
            self.screen.xdotool(&["search", "--sync", "--onlyvisible", "--name", "Overcup"]);
        let window = found.lines().next().unwrap().to_owned();
        self.screen.xdotool(&["windowfocus", "--sync", &window]);
    }

    /// The last place that was told of something.
    fn place(&self, what: &str) -> [i32; 2] {
        let line = self.heard.iter().rev().find_map(|line| line.strip_prefix(what)).unwrap();
        let numbers: Vec<i32> = line.split_whitespace().map(|n| n.parse().unwrap()).collect();
        [numbers[0], numbers[1]]
    }

    fn drag(&self, [x, y]: [i32; 2], steps: &[[i32; 2]]) {
        self.screen.xdotool(&["mousemove", &x.to_string(), &y.to_string()]);
        std::thread::sleep(Duration::from_millis(700));
        self.screen.xdotool(&["mousedown", "1"]);
        for [dx, dy] in steps {
            std::thread::sleep(Duration::from_millis(700));
            let (x, y) = ((x + dx).to_string(), (y + dy).to_string());
            self.screen.xdotool(&["mousemove", &x, &y]);
        }
        std::thread::sleep(Duration::from_millis(700));
        self.screen.xdotool(&["mouseup", "1"]);
    }

    /// Waits for its end; its exit status and what it wrote to stderr.
    fn end(mut self) -> (Option<i32>, String) {
        let until = Instant::now() + PATIENCE;
        let status = loop {
            if let Some(status) = self.program.try_wait().unwrap() {
                break status;
            }
            assert!(Instant::now() < until, "the window does not close");
            std::thread::sleep(Duration::from_millis(100));
        };
        let mut err = String::new();
        self.program.stderr.take().unwrap().read_to_string(&mut err).unwrap();
        (status.code(), err)
    }
}

impl Drop for Window<'_> {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

/// The placement that the window speaks of, measured anew: the headline that it must tell.
fn by_fitup(fitting: &str, bearing: f64) -> String {
    let case = read_case(&examples().join("pressure-car/case.toml")).unwrap();
    let kit = read_kit(&examples().join("kit.toml")).unwrap();
    let (car, kit) = (case.car, kit.kit);
    let request = Request::named(&car, &kit, &[fitting.to_owned()], &[]).unwrap();
    let found = review(&car, &kit, &request, &|_| ()).unwrap();
    let bests = Bests::of(&found);
    let index = car.fittings.iter().position(|f| f.name == fitting).unwrap();
    let best = bests.find(index, None).unwrap();
    let edit = Edit::OutletBearing(Angle::from_radians(bearing));
    let setup = edited(&car, &kit, best, &edit).unwrap();
    let scene = Scene::new(&car, &kit).unwrap();
    // Straight from the checks, without what the window remembers of earlier placements.
    words::headline(&recheck(&scene, &setup).unwrap(), LengthUnit::Inch)
}

#[test]
fn the_window_is_driven_by_mouse_and_keyboard() {
    let screen = Screen::new();
    let state = tempfile::tempdir().unwrap();
    let (car, kit) = (examples().join("pressure-car"), examples().join("kit.toml"));
    let [car, kit] = [&car, &kit].map(|path| path.display().to_string());
    let mut window = Window::open(&screen, state.path(), &[&car, "--kit", &kit]);
    window.hear("the first fitting's placement", |line| line.starts_with("PRD: at this placement"));
    window.focus();

    // Two fittings on: LV2.
    window.key("f");
    window.hear("LV1", |line| line.starts_with("LV1: at this placement"));
    window.key("f");
    let first = window.hear("LV2", |line| line.starts_with("LV2: at this placement"));
    assert!(first.contains("nothing is short"), "{first}");

    // The outlet dragged by the ring's pointer.
    window.quiet(4);
    let pointer = window.place("ring's pointer at ");
    window.drag(pointer, &[[8, -8], [16, -14], [26, -16], [26, -16]]);
    let told = window.quiet(6);
    let bearing = |line: &String| {
        let number = line.strip_prefix("outlet's bearing ")?.strip_suffix(" radians")?;
        number.parse::<f64>().ok()
    };
    let bearing = told.iter().rev().find_map(bearing).expect("the outlet has turned");
    let headline = told.iter().rev().find(|line| line.starts_with("LV2: ")).unwrap();
    assert_ne!(*headline, first);
    assert_eq!(*headline, format!("LV2: {}", by_fitup("LV2", bearing)));

    // Back to the best placement, and two of its steps.
    window.key("r");
    window.hear("the best placement", |line| *line == first);
    window.key("Page_Down");
    window.hear("the beginning", |line| line.starts_with("step at 0.0 s"));
    for step in ["open the lid", "take off"] {
        window.key("Page_Down");
        window.hear(step, |line| line.starts_with("step at ") && line.contains(step));
    }
    window.key("End");

    // A section, level, and away again.
    window.key("c");
    window.hear("a section", |line| line == "cut along the bar");
    window.key("c");
    window.hear("the next section", |line| line == "cut across the bar");
    window.key("c");
    window.hear("the last section", |line| line == "cut level");

    // A figure is flown to.
    window.key("j");
    window.hear("a figure", |line| line == "cut through the figure");

    window.with_ctrl("q");
    let (status, err) = window.end();
    assert_eq!((status, err.as_str()), (Some(0), ""));
    // What is preferred is kept.
    assert!(state.path().join("overcup/window.json").is_file());
}

#[test]
fn a_lesson_is_run_and_scored() {
    let screen = Screen::new();
    let state = tempfile::tempdir().unwrap();
    let lesson = examples().join("pressure-car/lesson-hinge.toml").display().to_string();
    let mut window = Window::open(&screen, state.path(), &["--lesson", &lesson]);
    window.hear("the lesson's start", |line| line.contains("at this placement nothing is short"));
    window.focus();
    // The first choice is wrong, and told to be; the points are gone with the first attempt.
    window.with_ctrl("1");
    window.hear("that it is wrong", |line| line.starts_with("not so: Outside the wall at P0"));
    window.with_ctrl("2");
    window.hear("that it is right", |line| line.starts_with("right: It passes the hinge pin"));
    window.key("n");
    window.hear("the next step", |line| line == "lesson step: The right cup");
    window.with_ctrl("2");
    let score = window.hear("the score", |line| line.starts_with("scored: 2 of "));
    assert_eq!(score, "scored: 2 of 10 points, 2 of 5 steps done");
    window.with_ctrl("q");
    assert_eq!(window.end(), (Some(0), String::new()));
}
