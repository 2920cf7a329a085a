// SPDX-License-Identifier: MIT
#include "tools/job.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <sqlite3.h>

#include <chrono>
#include <cmath>

namespace padwalk::tools {

namespace {

constexpr int kApplication = 0x7064776B;  // "pdwk", in the file's header
constexpr int kSchema = 1;
constexpr int kPatienceMs = 5000;  // another program may be reading the story

constexpr const char* kTables = R"(
CREATE TABLE run(id INTEGER PRIMARY KEY, at TEXT NOT NULL, verb TEXT NOT NULL,
                 options TEXT NOT NULL, board TEXT NOT NULL, tester TEXT NOT NULL DEFAULT '',
                 verdict TEXT NOT NULL DEFAULT '', report TEXT NOT NULL DEFAULT '');
CREATE TABLE event(id INTEGER PRIMARY KEY, run INTEGER REFERENCES run(id), at TEXT NOT NULL,
                   kind TEXT NOT NULL, data TEXT NOT NULL);
CREATE TABLE reading(id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES run(id),
                     after_event INTEGER NOT NULL, source TEXT NOT NULL, sink TEXT NOT NULL,
                     ohm REAL, uncertainty_ohm REAL NOT NULL, volt REAL NOT NULL,
                     settled INTEGER NOT NULL, number INTEGER NOT NULL);
CREATE TABLE photo(event INTEGER PRIMARY KEY REFERENCES event(id), name TEXT NOT NULL,
                   bytes BLOB NOT NULL);
)";

std::string no_job(const std::string& path) {
  return fmt::format("{}: this is no padwalk job; give another name", path);
}

/// To the millisecond, so that what is told keeps its order.
std::string time_now() {
  const auto now = std::chrono::system_clock::now();
  const auto ms =
      std::chrono::duration_cast<std::chrono::milliseconds>(now.time_since_epoch()).count() % 1000;
  return fmt::format("{:%Y-%m-%dT%H:%M:%S}.{:03}Z",
                     fmt::gmtime(std::chrono::system_clock::to_time_t(now)), ms);
}

}  // namespace

struct Job::State {
  State(std::string the_path, Open how) : path(std::move(the_path)) {
    const int flags = SQLITE_OPEN_READWRITE | (how == Open::make_or_go_on ? SQLITE_OPEN_CREATE : 0);
    if (sqlite3_open_v2(path.c_str(), &base, flags, nullptr) != SQLITE_OK) {
      const RecordError error(complaint());
      sqlite3_close(base);
      throw error;
    }
  }
  ~State() { sqlite3_close(base); }
  State(const State&) = delete;
  State& operator=(const State&) = delete;

  std::string complaint() const {
    const int code = sqlite3_errcode(base) & 0xFF;
    switch (code) {
      case SQLITE_CANTOPEN:
        return fmt::format(
            "{}: the job cannot be opened; check the name, and that you may write in its folder",
            path);
      case SQLITE_READONLY:
        return fmt::format(
            "{}: the job cannot be written; check whether you may, or copy it where "
            "you can",
            path);
      case SQLITE_FULL:
        return fmt::format(
            "{}: the disk is full; make room and 'padwalk resume': all that was "
            "kept until now is there",
            path);
      case SQLITE_NOTADB:
        return no_job(path);
      case SQLITE_BUSY:
        return fmt::format("{}: another program is writing to this job; end it first", path);
      default:
        return fmt::format("{}: the job cannot be kept: {}", path, sqlite3_errmsg(base));
    }
  }

  void run(const char* sql) {
    if (sqlite3_exec(base, sql, nullptr, nullptr, nullptr) != SQLITE_OK) {
      throw RecordError(complaint());
    }
  }

  std::string path;
  sqlite3* base = nullptr;
};

namespace {

/// One statement: bound in order, then stepped.
class Statement {
 public:
  template <typename State>
  Statement(const State& state, const char* sql)
      : complaint_([&state] { return state.complaint(); }) {
    if (sqlite3_prepare_v2(state.base, sql, -1, &statement_, nullptr) != SQLITE_OK) {
      throw RecordError(complaint_());
    }
  }
  ~Statement() { sqlite3_finalize(statement_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  Statement& bind(std::string_view text) {
    sqlite3_bind_text(statement_, ++bound_, text.data(), static_cast<int>(text.size()),
                      SQLITE_TRANSIENT);
    return *this;
  }
  Statement& bind(std::int64_t number) {
    sqlite3_bind_int64(statement_, ++bound_, number);
    return *this;
  }
  Statement& bind(double number) {  // an infinite one is nothing
    std::isfinite(number) ? sqlite3_bind_double(statement_, ++bound_, number)
                          : sqlite3_bind_null(statement_, ++bound_);
    return *this;
  }
  Statement& bind(std::optional<std::int64_t> number) {
    number ? sqlite3_bind_int64(statement_, ++bound_, *number)
           : sqlite3_bind_null(statement_, ++bound_);
    return *this;
  }
  Statement& bind_bytes(std::string_view bytes) {
    sqlite3_bind_blob64(statement_, ++bound_, bytes.data(), bytes.size(), SQLITE_TRANSIENT);
    return *this;
  }

  /// Whether there is a row.
  bool step() {
    const int code = sqlite3_step(statement_);
    if (code != SQLITE_ROW && code != SQLITE_DONE) {
      throw RecordError(complaint_());
    }
    return code == SQLITE_ROW;
  }
  void again() {
    sqlite3_reset(statement_);
    bound_ = 0;
  }

  std::string text(int column) const {
    const void* bytes = sqlite3_column_blob(statement_, column);
    const int size = sqlite3_column_bytes(statement_, column);
    return bytes == nullptr
               ? std::string()
               : std::string(static_cast<const char*>(bytes), static_cast<std::size_t>(size));
  }
  std::int64_t number(int column) const { return sqlite3_column_int64(statement_, column); }
  bool is_null(int column) const { return sqlite3_column_type(statement_, column) == SQLITE_NULL; }

 private:
  std::function<std::string()> complaint_;
  sqlite3_stmt* statement_ = nullptr;
  int bound_ = 0;
};

/// All or nothing.
class Transaction {
 public:
  template <typename State>
  explicit Transaction(State& state)
      : commit_([&state] { state.run("COMMIT"); }),
        take_back_([&state] { sqlite3_exec(state.base, "ROLLBACK", nullptr, nullptr, nullptr); }) {
    state.run("BEGIN IMMEDIATE");
  }
  ~Transaction() {
    if (!done_) {
      take_back_();
    }
  }
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  void commit() {
    commit_();
    done_ = true;
  }

 private:
  std::function<void()> commit_;
  std::function<void()> take_back_;
  bool done_ = false;
};

}  // namespace

Job::Job(const std::string& path, Open how) : state_(std::make_unique<State>(path, how)) {
  State& state = *state_;
  sqlite3_busy_timeout(state.base, kPatienceMs);
  const auto pragma = [&](const char* sql) {
    Statement statement(state, sql);
    return statement.step() ? statement.number(0) : 0;
  };
  const std::int64_t application = pragma("PRAGMA application_id");
  const std::int64_t schema = pragma("PRAGMA user_version");
  const bool blank =
      application == 0 && schema == 0 && pragma("SELECT count(*) FROM sqlite_master") == 0;
  if (blank ? how == Open::existing : application != kApplication) {
    throw RecordError(no_job(path));
  }
  if (schema > kSchema) {
    throw RecordError(fmt::format(
        "{}: this job was written by a later padwalk (layout {}, this one knows {}); use that one",
        path, schema, kSchema));
  }
  state.run("PRAGMA journal_mode = WAL");
  state.run("PRAGMA synchronous = FULL");
  if (blank) {
    Transaction all(state);
    state.run(fmt::format("PRAGMA application_id = {}", kApplication).c_str());
    state.run(fmt::format("PRAGMA user_version = {}", kSchema).c_str());
    state.run(kTables);
    all.commit();
  }
}

Job::~Job() = default;

std::int64_t Job::begin_run(const std::string& verb, const std::string& options,
                            const std::string& board) {
  Statement(*state_, "INSERT INTO run(at, verb, options, board) VALUES(?, ?, ?, ?)")
      .bind(time_now())
      .bind(verb)
      .bind(options)
      .bind(board)
      .step();
  return sqlite3_last_insert_rowid(state_->base);
}

void Job::met_tester(std::int64_t run, const std::string& tester) {
  Statement(*state_, "UPDATE run SET tester = ? WHERE id = ?").bind(tester).bind(run).step();
}

void Job::add_event(std::optional<std::int64_t> run, const std::string& kind,
                    const std::string& data) {
  Statement(*state_, "INSERT INTO event(run, at, kind, data) VALUES(?, ?, ?, ?)")
      .bind(run)
      .bind(time_now())
      .bind(kind)
      .bind(data)
      .step();
}

void Job::add_readings(std::int64_t run, const std::vector<JobReading>& readings) {
  Transaction all(*state_);
  Statement last(*state_, "SELECT coalesce(max(id), 0) FROM event WHERE run = ?");
  last.bind(run).step();
  const std::int64_t after = last.number(0);
  Statement insert(*state_,
                   "INSERT INTO reading(run, after_event, source, sink, ohm, uncertainty_ohm, "
                   "volt, settled, number) VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?)");
  for (const JobReading& reading : readings) {
    insert.bind(run).bind(after).bind(reading.source).bind(reading.sink).bind(reading.ohm);
    insert.bind(reading.uncertainty_ohm).bind(reading.volt);
    insert.bind(std::int64_t{reading.settled}).bind(std::int64_t{reading.number}).step();
    insert.again();
  }
  all.commit();
}

void Job::add_note(const std::string& text, const std::string& photo_name, std::string_view photo) {
  Transaction all(*state_);
  add_event(std::nullopt, "note", text);
  if (!photo_name.empty()) {
    Statement(*state_, "INSERT INTO photo(event, name, bytes) VALUES(?, ?, ?)")
        .bind(std::int64_t{sqlite3_last_insert_rowid(state_->base)})
        .bind(photo_name)
        .bind_bytes(photo)
        .step();
  }
  all.commit();
}

void Job::end_run(std::int64_t run, const std::string& verdict, const std::string& report) {
  Statement(*state_, "UPDATE run SET verdict = ?, report = ? WHERE id = ?")
      .bind(verdict)
      .bind(report)
      .bind(run)
      .step();
}

std::vector<JobRun> Job::runs() const {
  std::vector<JobRun> runs;
  Statement all(
      *state_, "SELECT id, at, verb, options, board, tester, verdict, report FROM run ORDER BY id");
  while (all.step()) {
    runs.push_back({all.number(0), all.text(1), all.text(2), all.text(3), all.text(4), all.text(5),
                    all.text(6), all.text(7)});
  }
  return runs;
}

std::vector<JobEvent> Job::events(std::optional<std::int64_t> run) const {
  std::vector<JobEvent> events;
  Statement all(
      *state_,
      "SELECT id, run, at, kind, data FROM event WHERE ?1 IS NULL OR run = ?1 ORDER BY id");
  all.bind(run);
  while (all.step()) {
    events.push_back({all.number(0), all.is_null(1) ? std::nullopt : std::optional(all.number(1)),
                      all.text(2), all.text(3), all.text(4)});
  }
  return events;
}

std::size_t Job::readings(std::int64_t run) const {
  Statement count(*state_, "SELECT count(*) FROM reading WHERE run = ?");
  count.bind(run).step();
  return static_cast<std::size_t>(count.number(0));
}

std::optional<std::string> Job::photo(std::int64_t event) const {
  Statement one(*state_, "SELECT bytes FROM photo WHERE event = ?");
  one.bind(event);
  return one.step() ? std::optional(one.text(0)) : std::nullopt;
}

}  // namespace padwalk::tools
