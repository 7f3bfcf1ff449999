//! A folder with an order and a laboratory, and the program with limits.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::common::LAB;

/// How long a command may take before it counts as one that does not end.
const MOST_SECONDS: u64 = 60;
/// Address space in kilobytes: many times what an ordinary run takes, and an allocator
/// reserves more of it than it uses.
const MOST_MEMORY: u64 = 6 * 1024 * 1024;

pub struct Bench {
    folder: TempDir,
}

/// How a command ended.
pub struct Ended {
    why: String,
    pub code: Option<i32>,
    /// What it said on both streams.
    pub said: String,
}

impl Bench {
    /// A laboratory and nothing else.
    pub fn new() -> Self {
        let bench = Self { folder: tempfile::tempdir().unwrap() };
        bench.write("lab.toml", LAB);
        bench
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }

    /// Gives a command in the folder and waits for its end.
    pub fn give(&self, why: &str, words: &[&str]) -> Ended {
        let words: Vec<&std::ffi::OsStr> = words.iter().map(AsRef::as_ref).collect();
        self.give_os(why, &words)
    }

    pub fn give_os(&self, why: &str, words: &[&std::ffi::OsStr]) -> Ended {
        let mut command = limited(Path::new(env!("CARGO_BIN_EXE_kitwright")));
        command.args(words).current_dir(self.folder.path());
        ended(why, &mut command)
    }

    /// Makes the kit of `order.toml`, read on the day of the other tests.
    pub fn make(&self, why: &str, more: &[&str]) -> Ended {
        let words = ["make", "order.toml", "--out", "kits", "--today", "2026-09-01"];
        self.give(why, &[&words, more].concat())
    }

    /// Plans what is in the file `order`.
    pub fn plan(&self, why: &str, order: &str) -> Ended {
        self.give(why, &["plan", order, "--json", "--today", "2026-09-01"])
    }
}

/// The program with less memory than would fill the machine.
fn limited(program: &Path) -> Command {
    if cfg!(target_os = "linux") {
        let mut command = Command::new("sh");
        let limit = format!("ulimit -v {MOST_MEMORY}; exec \"$0\" \"$@\"");
        command.args(["-c", &limit]).arg(program);
        return command;
    }
    Command::new(program)
}

fn ended(why: &str, command: &mut Command) -> Ended {
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let readers =
        [reader(child.stdout.take().unwrap()), reader(child.stderr.take().unwrap())];
    let start = Instant::now();
    let code = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status.code();
        }
        if start.elapsed() > Duration::from_secs(MOST_SECONDS) {
            child.kill().unwrap();
            child.wait().unwrap();
            panic!("{why}: it did not end within {MOST_SECONDS} s");
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    let said = readers.map(|reader| reader.join().unwrap()).concat();
    Ended { why: why.to_owned(), code, said }
}

/// Reads on a thread of its own, so that the program never waits for its reader.
fn reader(mut from: impl Read + Send + 'static) -> std::thread::JoinHandle<String> {
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        from.read_to_end(&mut bytes).unwrap();
        String::from_utf8_lossy(&bytes).into_owned()
    })
}

impl Ended {
    /// It ended with `code` and said each of `parts`.
    #[track_caller]
    pub fn with(self, code: i32, parts: &[&str]) -> Self {
        let said: String = self.said.chars().take(6_000).collect();
        assert_eq!(self.code, Some(code), "{}: {said}", self.why);
        for part in parts {
            assert!(self.said.contains(part), "{}: no \"{part}\" in {said}", self.why);
        }
        self
    }

    /// It was refused, with `parts` in what it said, and said what would be right.
    #[track_caller]
    pub fn refused(self, parts: &[&str]) -> Self {
        self.with(1, parts).with(1, &["= help: "])
    }
}
