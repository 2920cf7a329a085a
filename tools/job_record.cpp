// SPDX-License-Identifier: MIT
#include "tools/job_record.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>

#include "graph/board_yaml.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/measure.hpp"
#include "tools/name_list.hpp"

namespace padwalk::tools {

namespace {

using graph::NetId;
using graph::PointId;

nlohmann::json ohms(double ohm) {
  return std::isfinite(ohm) ? nlohmann::json(ohm) : nlohmann::json();
}
double ohms_from(const nlohmann::json& value) {
  return value.is_null() ? graph::kOpenOhm : value.get<double>();
}

/// Names to ids of one board.
class Names {
 public:
  explicit Names(const graph::Board& board) : board_(board) {}

  PointId point(const nlohmann::json& name) const {
    if (name.is_null()) {
      return graph::kNoPoint;
    }
    const auto point = board_.find_point(name.get<std::string>());
    return point ? *point : throw RecordError(no_such("point", name));
  }
  std::vector<PointId> points(const nlohmann::json& names) const {
    std::vector<PointId> points;
    for (const nlohmann::json& name : names) {
      points.push_back(point(name));
    }
    return points;
  }
  NetId net(const nlohmann::json& name) const {
    const auto net = board_.find_net(name.get<std::string>());
    return net ? *net : throw RecordError(no_such("net", name));
  }

 private:
  static std::string no_such(const char* what, const nlohmann::json& name) {
    return fmt::format(
        "the job's record names {} {}, which the board file does not have; sweep anew", what,
        name.get<std::string>());
  }
  const graph::Board& board_;
};

nlohmann::json to_json(const graph::Board& board, const graph::Reading& reading) {
  const graph::WantedReading& wanted = reading.wanted;
  return {{"source", names_of(board, wanted.source)},
          {"sink", names_of(board, wanted.sink)},
          {"purpose", wanted.purpose},
          {"sense", wanted.sense == graph::kNoPoint ? nlohmann::json()
                                                    : nlohmann::json(board[wanted.sense].name)},
          {"at_least_ohm", ohms(wanted.expected.at_least_ohm)},
          {"at_most_ohm", ohms(wanted.expected.at_most_ohm)},
          {"provisional", wanted.provisional},
          {"ohm", ohms(reading.ohm)},
          {"uncertainty_ohm", reading.uncertainty_ohm},
          {"volt", reading.volt},
          {"across_volt", reading.across_volt},
          {"settled", reading.settled},
          {"number", reading.number},
          {"intermittent", reading.intermittent},
          {"close", reading.close}};
}

graph::Reading reading_from(const Names& names, const nlohmann::json& one) {
  graph::Reading reading;
  reading.wanted.source = names.points(one.at("source"));
  reading.wanted.sink = names.points(one.at("sink"));
  reading.wanted.purpose = one.at("purpose");
  reading.wanted.sense = names.point(one.at("sense"));
  reading.wanted.expected = {ohms_from(one.at("at_least_ohm")), ohms_from(one.at("at_most_ohm"))};
  reading.wanted.provisional = one.at("provisional");
  reading.ohm = ohms_from(one.at("ohm"));
  reading.uncertainty_ohm = one.at("uncertainty_ohm");
  reading.volt = one.at("volt");
  reading.across_volt = one.at("across_volt");
  reading.settled = one.at("settled");
  reading.number = one.at("number");
  reading.intermittent = one.at("intermittent");
  reading.close = one.at("close");
  return reading;
}

nlohmann::json to_json(const graph::Board& board, const graph::PairReading& pair) {
  return {{"a", board[pair.a].name},
          {"b", board[pair.b].name},
          {"ohm", ohms(pair.ohm)},
          {"uncertainty_ohm", pair.uncertainty_ohm},
          {"volt", pair.volt},
          {"settled", pair.settled},
          {"stray_siemens", pair.stray_siemens},
          {"broken", pair.broken},
          {"across_volt", pair.across_volt},
          {"tied_ohm", pair.tied_ohm},
          {"uneven_ohm", pair.uneven_ohm}};
}

graph::PairReading pair_from(const Names& names, const nlohmann::json& one) {
  graph::PairReading pair;
  pair.a = names.net(one.at("a"));
  pair.b = names.net(one.at("b"));
  pair.ohm = ohms_from(one.at("ohm"));
  pair.uncertainty_ohm = one.at("uncertainty_ohm");
  pair.volt = one.at("volt");
  pair.settled = one.at("settled");
  pair.stray_siemens = one.at("stray_siemens");
  pair.broken = one.at("broken");
  pair.across_volt = one.at("across_volt");
  pair.tied_ohm = one.at("tied_ohm");
  pair.uneven_ohm = one.at("uneven_ohm");
  return pair;
}

nlohmann::json to_json(const graph::Board& board, const graph::Measured& measured) {
  nlohmann::json all = {{"attached", names_of(board, measured.attached)},
                        {"silent_believed", names_of(board, measured.silent_believed)},
                        {"silent_unproven", names_of(board, measured.silent_unproven)},
                        {"readings", nlohmann::json::array()},
                        {"pairs", nlohmann::json::array()},
                        {"one_way", nlohmann::json::array()},
                        {"unsure", nlohmann::json::array()}};
  for (const graph::Reading& reading : measured.readings) {
    all["readings"].push_back(to_json(board, reading));
  }
  for (const graph::PairReading& pair : measured.nets.pairs) {
    all["pairs"].push_back(to_json(board, pair));
  }
  for (const graph::OneWay& way : measured.nets.one_way) {
    all["one_way"].push_back(
        {{"from", board[way.from].name}, {"to", board[way.to].name}, {"ohm", ohms(way.ohm)}});
  }
  for (const auto& [a, b] : measured.nets.unsure) {
    all["unsure"].push_back({board[a].name, board[b].name});
  }
  return all;
}

graph::Measured measured_from(const Names& names, const nlohmann::json& all) {
  graph::Measured measured;
  measured.attached = names.points(all.at("attached"));
  measured.silent_believed = names.points(all.at("silent_believed"));
  measured.silent_unproven = names.points(all.at("silent_unproven"));
  for (const nlohmann::json& one : all.at("readings")) {
    measured.readings.push_back(reading_from(names, one));
  }
  for (const nlohmann::json& one : all.at("pairs")) {
    measured.nets.pairs.push_back(pair_from(names, one));
  }
  for (const nlohmann::json& one : all.at("one_way")) {
    measured.nets.one_way.push_back(
        {names.net(one.at("from")), names.net(one.at("to")), ohms_from(one.at("ohm"))});
  }
  for (const nlohmann::json& one : all.at("unsure")) {
    measured.nets.unsure.emplace_back(names.net(one.at(0)), names.net(one.at(1)));
  }
  return measured;
}

std::string whole_name(const std::string& file) {
  return file.empty() ? file : std::filesystem::absolute(file).string();
}

}  // namespace

void JobRecord::leads(const graph::Hookup& now) {
  nlohmann::json leads = nlohmann::json::array();
  for (const graph::Lead& lead : now.leads) {
    leads.push_back({{"channel", lead.channel}, {"point", board_[lead.point].name}});
  }
  job_.add_event(run_, "leads", leads.dump());
}

void JobRecord::readings(std::span<const graph::Reading> readings) {
  std::vector<JobReading> rows;
  for (const graph::Reading& reading : readings) {
    std::vector<PointId> sink = reading.wanted.sink;
    if (reading.wanted.sense != graph::kNoPoint) {
      sink.push_back(reading.wanted.sense);
    }
    rows.push_back({listed(names_of(board_, reading.wanted.source), SIZE_MAX),
                    listed(names_of(board_, sink), SIZE_MAX), reading.ohm, reading.uncertainty_ohm,
                    reading.volt, reading.settled, reading.number});
  }
  job_.add_readings(run_, rows);
}

void JobRecord::spell(const graph::Measured& measured) {
  job_.add_event(run_, "spell", to_json(board_, measured).dump());
}

void JobRecord::forgotten(const std::vector<PointId>& points, std::size_t since) {
  const nlohmann::json all = {{"points", names_of(board_, points)}, {"since", since}};
  job_.add_event(run_, "forgotten", all.dump());
}

void JobRecord::misfit(const std::string& fixture, const std::string& where) {
  job_.add_event(run_, "misfit", nlohmann::json{{"fixture", fixture}, {"where", where}}.dump());
}

void JobRecord::not_reached(PointId point) {
  job_.add_event(run_, "not reached", nlohmann::json(board_[point].name).dump());
}

void JobRecord::heard(const std::string& place, const std::vector<PointId>& with, bool metal) {
  const nlohmann::json all = {{"place", place}, {"with", names_of(board_, with)}, {"metal", metal}};
  job_.add_event(run_, "heard", all.dump());
}

KeptRun::KeptRun(const std::string& job, const std::string& verb, const std::string& options,
                 const graph::Board& board, const std::string& board_file) {
  if (!job.empty()) {
    job_.emplace(job, Job::Open::make_or_go_on);
    run_ = job_->begin_run(verb, options, graph::read_file(board_file));
    record_.emplace(*job_, run_, board);
  }
}

KeptRun::KeptRun(const std::string& job, const std::string& verb, const std::string& options,
                 const graph::Board* board) {
  if (!job.empty()) {
    job_.emplace(job, Job::Open::make_or_go_on);
    run_ = job_->begin_run(verb, options,
                           board == nullptr ? "" : graph::write_board(board->description()));
    if (board != nullptr) {
      record_.emplace(*job_, run_, *board);
    }
  }
}

void KeptRun::met_tester(const session::Capabilities& tester, const std::string& port) {
  if (job_) {
    job_->met_tester(run_, fmt::format("{}, {}, on {}", tester.unit, tester.firmware, port));
  }
}

void KeptRun::end(const std::string& verdict, const std::string& report) {
  if (job_) {
    job_->end_run(run_, verdict, report);
  }
}

void KeptRun::end(const std::string& verdict, const std::string& report, SweepReport& run,
                  JsonOutput& output) {
  try {
    end(verdict, report);
  } catch (const RecordError& error) {
    note_lost_record(error, run);
  }
  if (output.wanted()) {
    output.write(report);
  }
}

std::string board_options_json(const std::string& board) {
  return nlohmann::json{{"board", whole_name(board)}}.dump();
}

Kept kept_of(const Job& job, std::int64_t run, const graph::Board& board) {
  const std::vector<JobRun> runs = job.runs();
  std::vector<std::int64_t> chain;  // the first one last
  for (std::int64_t id = run; id != 0;) {
    const auto found =
        std::find_if(runs.begin(), runs.end(), [&](const JobRun& one) { return one.id == id; });
    if (found == runs.end() || chain.size() > runs.size()) {
      break;
    }
    chain.push_back(id);
    id = run_before(*found);
  }
  Kept kept{graph::Evidence(board), {}, {}, {}};
  std::map<PointId, std::uint16_t> last;
  const Names names(board);
  try {
    for (auto id = chain.rbegin(); id != chain.rend(); ++id) {
      for (const JobEvent& event : job.events(*id)) {
        const nlohmann::json data = nlohmann::json::parse(event.data);
        if (event.kind == "leads") {
          for (const nlohmann::json& lead : data) {
            last[names.point(lead.at("point"))] = lead.at("channel");
          }
        } else if (event.kind == "spell") {
          kept.evidence.add(measured_from(names, data));
        } else if (event.kind == "forgotten") {
          kept.evidence.forget(names.points(data.at("points")), data.at("since"));
        } else if (event.kind == "misfit") {
          kept.misfits.emplace_back(data.at("fixture"), data.at("where"));
        } else if (event.kind == "not reached") {
          kept.not_reached.push_back(names.point(data));
        }
      }
    }
  } catch (const nlohmann::json::exception&) {
    throw RecordError("the job's record cannot be read; sweep anew, into another job");
  }
  for (const PointId point : kept.evidence.merged().attached) {
    kept.leads.push_back({last[point], point});
  }
  return kept;
}

std::string sweep_options_json(const SweepOptions& options, std::int64_t before) {
  const nlohmann::json all = {
      {"before", before},
      {"board", whole_name(options.board)},
      {"fixtures", whole_name(options.plan.fixtures)},
      {"neighbours_mm", options.plan.neighbours_mm},
      {"all_pairs", options.plan.all_pairs},
      {"nets", options.plan.nets},
      {"near", options.plan.near},
      {"port", options.port},
      {"simulate", options.simulate},
      {"defects", whole_name(options.defects)},
      {"simulate_board", whole_name(options.simulate_board)},
      {"history", whole_name(options.history)},
      {"channels", options.channels},
      {"quick", options.quick},
      {"ask", options.ask ? nlohmann::json(*options.ask) : nlohmann::json()},
      {"keys", options.keys},
      {"leave_out", options.leave_out},
      {"power_limit_volt", options.power_limit_volt}};
  return all.dump();
}

SweepOptions sweep_options_from(const std::string& text) {
  try {
    const nlohmann::json all = nlohmann::json::parse(text);
    SweepOptions options;
    options.board = all.at("board");
    options.plan.fixtures = all.at("fixtures");
    options.plan.neighbours_mm = all.at("neighbours_mm");
    options.plan.all_pairs = all.at("all_pairs");
    options.plan.nets = all.at("nets");
    options.plan.near = all.at("near");
    options.port = all.at("port");
    options.simulate = all.at("simulate");
    options.defects = all.at("defects");
    options.simulate_board = all.value("simulate_board", "");
    options.history = all.value("history", "");
    options.channels = all.at("channels");
    options.quick = all.at("quick");
    if (!all.at("ask").is_null()) {
      options.ask = all.at("ask").get<bool>();
    }
    options.keys = all.at("keys");
    options.leave_out = all.at("leave_out");
    options.power_limit_volt = all.at("power_limit_volt");
    return options;
  } catch (const nlohmann::json::exception&) {
    throw RecordError("the job does not say how the sweep was made; sweep anew");
  }
}

std::int64_t run_before(const JobRun& run) {
  const nlohmann::json options = nlohmann::json::parse(run.options, nullptr, false);
  return options.is_object() ? options.value("before", std::int64_t{0}) : 0;
}

bool ended(const JobRun& run) {
  return run.verdict == "good" || run.verdict == "faulty";
}

const JobRun* last_ended_sweep(const std::vector<JobRun>& runs) {
  const auto last = std::find_if(runs.rbegin(), runs.rend(), [](const JobRun& run) {
    return run.verb == "sweep" && ended(run);
  });
  return last == runs.rend() ? nullptr : &*last;
}

}  // namespace padwalk::tools
