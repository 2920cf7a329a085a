// SPDX-License-Identifier: MIT
#include "tools/options.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>

#include "firmware-host/session/session.hpp"
#include "firmware-host/transport/byte_stream.hpp"
#include "graph/diagnostics.hpp"
#include "graph/values.hpp"
#include "tools/switch_forms.hpp"

namespace padwalk::tools {

namespace {

constexpr const char* kAbout =
    "padwalk compares a board with its netlist through a continuity tester: it names open vias,\n"
    "broken traces and shorts, and says where to put the tip next.";

constexpr const char* kFooter =
    "Before any lead goes on: mains plug out, cell out (is a memory kept alive by it? save it "
    "first),\n"
    "big capacitors discharged through a resistor and metered. Never clip to picture tubes, "
    "backlights\n"
    "or mains circuits, even when off. Leave mains equipment to a qualified person.\n"
    "\n"
    "Exit status: 0 good as far as tested, 1 findings, 2 bad input, 3 tester or link failed,\n"
    "4 refused (powered or charged), 5 interrupted or incomplete.";

void complain(const std::string& sentence) {
  std::string text = sentence;
  std::fflush(stdout);
  fmt::print(stderr, "padwalk: {}\n", text);
}

/// Which tester, for every verb that measures: options with `port`, `defects` and `channels`.
template <typename Options>
void add_tester_choice(CLI::App& verb, Options& options) {
  CLI::Option* port =
      verb.add_option("--port", options.port, "serial port of the tester; see 'padwalk ports'")
          ->type_name("NAME");
  CLI::Option* simulate =
      verb.add_option("--simulate", options.defects,
                      "no hardware: a simulated tester on a simulated board, healthy or with the "
                      "defects of a file")
          ->type_name("[DEFECTS]")
          ->expected(0, 1)
          ->excludes(port);
  verb.add_option("--channels", options.channels, "channels of the simulated tester")
      ->type_name("N")
      ->check(CLI::Range(2, 4096))
      ->needs(simulate);
}

/// What `--for` says.
double seconds_of(const std::string& text) {
  constexpr double kLongestS = 7 * 24 * 3600;
  const auto seconds = graph::parse_value(text, graph::Unit::second);
  if (!seconds || !(*seconds > 0 && *seconds <= kLongestS)) {
    throw UsageError(fmt::format("--for {}: expected a time such as 60s or '5 min'", text));
  }
  return *seconds;
}

/// Once it is parsed: notes which kind it is. Errors: UsageError where there is none.
template <typename Options>
void need_tester(const CLI::App& verb, Options& options) {
  options.simulate = verb.count("--simulate") > 0;
  if (!options.simulate && options.port.empty()) {
    throw UsageError(fmt::format("{} needs a tester: --port NAME, or --simulate to try without one",
                                 verb.get_name()));
  }
}

void add_json(CLI::App& verb, std::string& json) {
  verb.add_option("--json", json, "write the result there as well; '-': standard output")
      ->type_name("FILE");
}

void add_keys(CLI::App& verb, bool& keys) {
  verb.add_flag("--keys", keys,
                "with --simulate: the simulated hands wait for your keys, as a real board would")
      ->needs("--simulate");
}

void add_job(CLI::App& verb, std::string& job) {
  verb.add_option("--job", job,
                  "the record of this repair: all is kept there as it happens; made if it is not "
                  "there")
      ->type_name("FILE");
}

void add_history(CLI::App& verb, std::string& history) {
  verb.add_option("--history", history,
                  "a folder of jobs: what turned out broken on boards of this name is likelier")
      ->type_name("FOLDER");
}

/// What a plan is for, for every verb that makes one.
void add_plan_choice(CLI::App& verb, PlanChoice& choice) {
  verb.add_option("--fixtures", choice.fixtures, "what your bench owns (fixtures/1)")
      ->type_name("FILE");
  CLI::Option* all_pairs = verb.add_flag("--all-pairs", choice.all_pairs,
                                         "bring each two nets together, not only neighbours");
  verb.add_option("--neighbours", choice.neighbours_mm,
                  "millimetres within which nets are neighbours; default 2.6")
      ->type_name("MM")
      ->check(CLI::Range(0.1, 1000.0))
      ->excludes(all_pairs);
  CLI::Option* some_nets =
      verb.add_option("--nets", choice.nets, "only these nets, by commas, and what they meet")
          ->type_name("NET")
          ->delimiter(',');
  verb.add_option("--near", choice.near, "only nets that pass through this region of the file")
      ->type_name("REGION")
      ->excludes(some_nets);
}

void add_rest_limit(CLI::App& verb, double& volt) {
  verb.add_option_function<double>(
          "--rest-limit", [&volt](const double& millivolt) { volt = millivolt / 1000; },
          "millivolts that count as at rest, recorded in the result; default 15")
      ->type_name("MV")
      ->check(CLI::Range(15.0, 150.0));
}

void add_ask(CLI::App& verb, std::string& ask) {
  verb.add_option("--ask", ask,
                  "may it ask you to re-seat a silent lead? Default: yes at a terminal")
      ->check(CLI::IsMember({"yes", "no"}));
}

void add_learn_options(CLI::App& verb, LearnOptions& options, std::string& ask) {
  CLI::Option* parts =
      verb.add_option("--parts", options.parts,
                      "what is there, and in brackets what is printed on it: 'U1 DIP-40 (Z84C00), "
                      "R7 axial 10 mm (4k7)'")
          ->type_name("LIST");
  CLI::Option* points =
      verb.add_option("--points", options.points, "test pads: 'TP1, TP2'")->type_name("LIST");
  CLI::Option* assembled = verb.add_flag(
      "--assembled", options.assembled, "its parts are on the board; without it the board is bare");
  verb.add_option("--parts-from", options.parts_from,
                  "parts, points and state of this board file (board/1) instead; its nets are not "
                  "looked at, but for those never to be driven")
      ->type_name("FILE")
      ->excludes(parts)
      ->excludes(points)
      ->excludes(assembled);
  verb.add_option("--name", options.name, "the board's name")->type_name("NAME");
  verb.add_option("--fixtures", options.fixtures,
                  "what your bench owns (fixtures/1): you are asked for moves and touches; without "
                  "it every point has a lead at once")
      ->type_name("FILE");
  verb.add_option("-o,--output", options.output, "the board file to write")
      ->type_name("BOARD")
      ->required();
  add_tester_choice(verb, options);
  verb.add_option("--simulate-board", options.simulate_board,
                  "the board file (board/1) that says what is really there")
      ->type_name("FILE")
      ->needs("--simulate");
  add_rest_limit(verb, options.power_limit_volt);
  add_ask(verb, ask);
  add_job(verb, options.job);
  add_json(verb, options.json);
}

void add_audit_options(CLI::App& verb, AuditOptions& options) {
  CLI::Option* board = verb.add_option("BOARD", options.board, "the board file (board/1)");
  CLI::Option* part =
      verb.add_option("--switch", options.part, "the switch on that board, such as S1")
          ->type_name("PART")
          ->needs(board);
  board->needs(part);
  CLI::Option* terminals =
      verb.add_option("--terminals", options.terminals,
                      "no board: a loose switch of so many terminals, leads 1 to N on them")
          ->type_name("N")
          ->check(CLI::Range(2, 24))
          ->excludes(board);
  verb.add_option("--positions", options.positions,
                  "of a loose switch: its positions by commas, the one at rest first; default "
                  "out,in")
      ->type_name("NAME")
      ->delimiter(',')
      ->needs(terminals);
  verb.add_option("--times", options.times, "operate it so often; default 1")
      ->type_name("N")
      ->check(CLI::Range(1, 1000));
  add_tester_choice(verb, options);
  add_keys(verb, options.keys);
  verb.add_option("--simulate-switch", options.form,
                  fmt::format("what the simulated loose switch is: {}", kSwitchForms))
      ->type_name("FORM")
      ->needs(terminals)
      ->needs("--simulate");
  add_job(verb, options.job);
  add_json(verb, options.json);
}

void add_confirm_options(CLI::App& verb, ConfirmOptions& options, std::string& seconds) {
  verb.add_option("BOARD", options.board, "the board file (board/1)")->required();
  CLI::Option* wire =
      verb.add_option("--wire", options.wire, "a wire was soldered on from A to B, two places")
          ->type_name("A B")
          ->expected(2);
  verb.add_option("--repaired", options.repaired, "the copper from A to B was mended")
      ->type_name("A B")
      ->expected(2)
      ->excludes(wire);
  verb.add_option("--gauge", options.gauge, "American wire gauge of the wire")
      ->type_name("N")
      ->check(CLI::Range(0, 40))
      ->needs(wire);
  verb.add_option("--length", options.length, "how long the wire is, such as 45mm")
      ->type_name("LENGTH")
      ->needs(wire);
  CLI::Option* flex =
      verb.add_flag("--flex", options.flex, "then watch the net while you bend and tap the board");
  verb.add_option("--for", seconds, "with --flex: so long, such as 30s; else until q or Ctrl-C")
      ->type_name("TIME")
      ->needs(flex);
  verb.add_option("--after", options.after,
                  "the sweep before, as 'sweep --json' wrote it; default: the job's last one")
      ->type_name("FILE");
  add_tester_choice(verb, options);
  add_job(verb, options.job);
  add_json(verb, options.json);
}

void add_watch_options(CLI::App& verb, WatchOptions& options, std::string& seconds) {
  verb.add_option("BOARD", options.board, "the board file (board/1)")->required();
  verb.add_option("--net", options.net,
                  "hold this net at once; without it all that is clipped is swept coarsely until "
                  "something comes or goes")
      ->type_name("NET");
  verb.add_option("--for", seconds, "so long, such as 60s or '5 min'; without it until Ctrl-C or q")
      ->type_name("TIME");
  verb.add_option("--second-lead", options.second,
                  "points with a second lead, by commas, on the channels behind all others: a "
                  "fluttering clip is told from a fluttering board")
      ->type_name("POINT")
      ->delimiter(',');
  verb.add_flag("--quiet{false}", options.sound, "no tones");
  add_tester_choice(verb, options);
  add_job(verb, options.job);
  add_json(verb, options.json);
}

void add_tester_options(CLI::App& sweep, SweepOptions& options, std::string& ask) {
  sweep.add_option("BOARD", options.board, "the board file (board/1)")->required();
  add_tester_choice(sweep, options);
  sweep
      .add_option("--simulate-board", options.simulate_board,
                  "the board file (board/1) that says what is really there; default: as BOARD says")
      ->type_name("FILE")
      ->needs("--simulate");
  add_plan_choice(sweep, options.plan);
  for (const char* option : {"--all-pairs", "--neighbours", "--nets", "--near"}) {
    sweep.get_option(option)->needs("--fixtures");
  }
  sweep
      .add_option("--leave-out", options.leave_out,
                  "nets that are live and shall stay so: nothing of them is driven or judged")
      ->type_name("NET")
      ->expected(1)
      ->take_all();
  add_rest_limit(sweep, options.power_limit_volt);
  sweep.add_flag("--quick", options.quick,
                 "fewer settings: tells open from closed, sees no weak joint");
  sweep
      .add_option("--plug-wait", options.plug_wait_s,
                  "seconds to wait for a tester whose plug was pulled; default: 600 at a terminal, "
                  "else 0")
      ->type_name("S")
      ->check(CLI::Range(0, 86400));
  add_ask(sweep, ask);
  add_keys(sweep, options.keys);
  sweep.get_option("--keys")->excludes("--simulate-board");
  add_job(sweep, options.job);
  add_history(sweep, options.history);
  add_json(sweep, options.json);
}

}  // namespace

int run(int argc, char** argv) {
  CLI::App app(kAbout, "padwalk");
  app.set_version_flag("--version", "padwalk " PADWALK_VERSION);
  app.footer(kFooter);
  app.require_subcommand(1);
  app.fallthrough(false);
  ExitStatus status = ExitStatus::good;

  CheckOptions check;
  CLI::App* check_verb =
      app.add_subcommand("check", "read a board file, say what it holds and what is doubtful");
  check_verb->add_option("BOARD", check.board, "the board file (board/1)")->required();
  check_verb->add_option("--rewrite", check.rewrite, "write it again, as a program would")
      ->type_name("OUT");
  check_verb->add_flag("--lint", check.lint,
                       "hold the nets against what the pins of known chips are for; status 1 where "
                       "something looks wrong");
  check_verb->callback([&] { status = check_board(check); });

  NewOptions fresh;
  CLI::App* new_verb = app.add_subcommand("new", "begin a board file, for 'enter' or by hand");
  new_verb->add_option("BOARD", fresh.board, "the board file to write; not there yet")->required();
  new_verb->add_option("--name", fresh.name, "the board's name, for reports")
      ->type_name("TEXT")
      ->required();
  new_verb->callback([&] { status = begin_board(fresh); });

  EnterOptions enter;
  CLI::App* enter_verb = app.add_subcommand(
      "enter", "put parts and nets into a board file, line by line as you read a schematic");
  enter_verb->add_option("BOARD", enter.board, "the board file (board/1)")->required();
  enter_verb->callback([&] { status = enter_board(enter); });

  ImportOptions import;
  CLI::App* import_verb =
      app.add_subcommand("import", "make a board file from an IPC-D-356A netlist");
  import_verb->add_option("NETLIST", import.netlist, "the netlist file")->required();
  import_verb->add_option("-o,--output", import.output, "the board file to write")
      ->type_name("BOARD")
      ->required();
  import_verb
      ->add_option("--units", import.units,
                   "for a netlist that does not say: 0.0001 inch or 0.001 mm")
      ->check(CLI::IsMember({"inch", "mm"}));
  import_verb->add_flag("--assembled", import.assembled,
                        "its parts are in place: clips fit on chips, and what parts conduct is "
                        "looked for once you give their values");
  import_verb->callback([&] { status = import_netlist(import); });

  SweepOptions sweep;
  std::string ask;
  CLI::App* sweep_verb = app.add_subcommand(
      "sweep", "measure every attached point and say where the board differs from its file");
  add_tester_options(*sweep_verb, sweep, ask);
  sweep_verb->callback([&] {
    need_tester(*sweep_verb, sweep);
    if (!ask.empty()) {
      sweep.ask = ask == "yes";
    }
    status = sweep_board(sweep);
  });

  OhmsOptions ohms;
  CLI::App* ohms_verb = app.add_subcommand(
      "ohms", "say what should lie between two points or nets, and measure whether it does");
  ohms_verb->add_option("BOARD", ohms.board, "the board file (board/1)")->required();
  ohms_verb->add_option("A", ohms.from, "a point, such as U2.7, or a net")->required();
  ohms_verb->add_option("B", ohms.to, "another")->required();
  ohms_verb->add_flag("--measure", ohms.measure, "measure it too, with two leads");
  ohms_verb
      ->add_flag("--passive", ohms.passive,
                 "measure at 5 V and 50 uA at most: passive parts alone hang on the pair")
      ->needs("--measure");
  add_tester_choice(*ohms_verb, ohms);
  add_job(*ohms_verb, ohms.job);
  ohms_verb->get_option("--job")->needs("--measure");
  add_json(*ohms_verb, ohms.json);
  ohms_verb->callback([&] {
    ohms.simulate = ohms_verb->count("--simulate") > 0;
    const bool tester = ohms.simulate || !ohms.port.empty();
    if (ohms.measure != tester) {
      throw UsageError(ohms.measure
                           ? "--measure needs a tester: --port NAME, or --simulate to try without "
                             "one"
                           : "--port and --simulate go with --measure");
    }
    status = tell_ohms(ohms);
  });

  PinpointOptions pinpoint;
  CLI::App* pinpoint_verb = app.add_subcommand(
      "pinpoint",
      "after a sweep: say where to put the tip, touch by touch, until a break is found");
  pinpoint_verb->add_option("BOARD", pinpoint.board, "the board file (board/1)")->required();
  pinpoint_verb->add_option("--after", pinpoint.after, "what 'sweep --json' wrote")
      ->type_name("FILE")
      ->required();
  add_tester_choice(*pinpoint_verb, pinpoint);
  add_keys(*pinpoint_verb, pinpoint.keys);
  add_job(*pinpoint_verb, pinpoint.job);
  add_history(*pinpoint_verb, pinpoint.history);
  pinpoint_verb->add_flag("--two-needles", pinpoint.two_needles,
                          "the tip has two leads on one piece of metal: then silence counts too");
  pinpoint_verb->add_flag("--quiet{false}", pinpoint.sound, "no tones while you slide the tip");
  add_json(*pinpoint_verb, pinpoint.json);
  pinpoint_verb->callback([&] {
    need_tester(*pinpoint_verb, pinpoint);
    status = pinpoint_opens(pinpoint);
  });

  WalkOptions walk;
  CLI::App* walk_verb = app.add_subcommand(
      "walk", "touch anything with the tip and be told its net, while all else stays clipped");
  walk_verb->add_option("BOARD", walk.board, "the board file (board/1)")->required();
  CLI::Option* hold =
      walk_verb
          ->add_option("--hold", walk.hold,
                       "the points that have a lead, by commas, on channels 1, 2, …; default: all "
                       "that a sweep attaches")
          ->type_name("POINT")
          ->delimiter(',');
  CLI::Option* walk_fixtures =
      walk_verb
          ->add_option("--fixtures", walk.fixtures,
                       "what your bench owns (fixtures/1): what 'plan' puts on first stays on")
          ->type_name("FILE")
          ->excludes(hold);
  walk_verb
      ->add_flag("--two-needles", walk.two_needles,
                 "the tip has two leads on one piece of metal: nothing is said without metal")
      ->excludes(walk_fixtures);
  walk_verb->add_flag("--quiet{false}", walk.sound, "no tones, no voice");
  add_tester_choice(*walk_verb, walk);
  add_job(*walk_verb, walk.job);
  add_json(*walk_verb, walk.json);
  walk_verb->callback([&] {
    need_tester(*walk_verb, walk);
    status = walk_board(walk);
  });

  AuditOptions audit;
  CLI::App* audit_verb =
      app.add_subcommand("audit", "say what a switch's contact pairs do in each of its positions");
  add_audit_options(*audit_verb, audit);
  audit_verb->callback([&] {
    if (audit.board.empty() && audit.terminals == 0) {
      throw UsageError(
          "audit needs a switch: BOARD --switch S1, or --terminals N for one without a board");
    }
    need_tester(*audit_verb, audit);
    if (audit.simulate && audit.board.empty() && audit.form.empty()) {
      throw UsageError(fmt::format(
          "--simulate needs --simulate-switch FORM here: which switch it is, {}", kSwitchForms));
    }
    status = audit_switch(audit);
  });

  ConfirmOptions confirm;
  std::string confirm_time;
  CLI::App* confirm_verb = app.add_subcommand(
      "confirm", "after a repair: is the net whole again, and did anything else change");
  add_confirm_options(*confirm_verb, confirm, confirm_time);
  confirm_verb->callback([&] {
    if (confirm.wire.empty() && confirm.repaired.empty()) {
      throw UsageError("confirm needs to know what was done: --wire A B, or --repaired A B");
    }
    need_tester(*confirm_verb, confirm);
    confirm.seconds = confirm_verb->count("--for") > 0 ? seconds_of(confirm_time) : 0;
    if (confirm.flex && confirm.simulate && confirm.seconds == 0) {
      throw UsageError("--flex on a simulated board needs to know how long: --for 10s");
    }
    status = confirm_repair(confirm);
  });

  WatchOptions watch;
  std::string watch_time;
  CLI::App* watch_verb = app.add_subcommand(
      "watch", "catch what comes and goes while you flex, tap, cool or heat the board");
  add_watch_options(*watch_verb, watch, watch_time);
  watch_verb->callback([&] {
    need_tester(*watch_verb, watch);
    watch.seconds = watch_verb->count("--for") > 0 ? seconds_of(watch_time) : 0;
    status = watch_board(watch);
  });

  PlanOptions plan;
  CLI::App* plan_verb = app.add_subcommand(
      "plan", "say which fixture goes where and what the tip touches, for the least of your time");
  plan_verb->add_option("BOARD", plan.board, "the board file (board/1)")->required();
  add_plan_choice(*plan_verb, plan.choice);
  plan_verb->add_option("-o,--output", plan.output, "write what is said there too, to print it")
      ->type_name("FILE");
  plan_verb->add_option("--json", plan.json, "write the plan there as well; '-': standard output")
      ->type_name("FILE");
  plan_verb->callback([&] { status = plan_board(plan); });

  LearnOptions learn;
  std::string learn_ask;
  CLI::App* learn_verb = app.add_subcommand(
      "learn", "make a board file of a board without a drawing: measure what is connected");
  add_learn_options(*learn_verb, learn, learn_ask);
  learn_verb->callback([&] {
    if (learn.parts.empty() && learn.points.empty() && learn.parts_from.empty()) {
      throw UsageError(
          "learn needs to know what is there: --parts 'U1 DIP-40, J1 header 2x5', "
          "--points or --parts-from");
    }
    need_tester(*learn_verb, learn);
    if (learn.simulate && learn.simulate_board.empty()) {
      throw UsageError("--simulate needs --simulate-board FILE here: which board is really there");
    }
    if (!learn_ask.empty()) {
      learn.ask = learn_ask == "yes";
    }
    status = learn_board(learn);
  });

  JobOptions job;
  CLI::App* job_verb =
      app.add_subcommand("job", "tell the story of a repair, and what of its checklist is done");
  job_verb->add_option("JOB", job.job, "the job's file")->required();
  job_verb->add_option("--done", job.done, "tick items of the checklist, by their words")
      ->type_name("ITEM")
      ->delimiter(',');
  job_verb->callback([&] { status = tell_job(job); });

  NoteOptions note;
  CLI::App* note_verb = app.add_subcommand("note", "put a remark or a photo into a job");
  note_verb->add_option("JOB", note.job, "the job's file; made if it is not there")->required();
  note_verb->add_option("TEXT", note.text, "what there is to say")->required();
  note_verb->add_option("--photo", note.photo, "a picture, kept in the job itself")
      ->type_name("FILE");
  note_verb->callback([&] { status = add_note(note); });

  SettleOptions settle;
  CLI::App* settle_verb = app.add_subcommand(
      "settle",
      "say of each finding of a job's last sweep what it is, one key each; slips of the board file "
      "are corrected in it");
  settle_verb->add_option("JOB", settle.job, "the job's file")->required();
  CLI::Option* settle_one =
      settle_verb->add_option("FINDING", settle.finding, "only this one, such as F2");
  CLI::Option* settle_as = settle_verb->add_option(
      "AS", settle.disposition, "what it is: typed, drawing, factory, fault or leave");
  settle_one->needs(settle_as);
  settle_verb->callback([&] { status = settle_findings(settle); });

  ResumeOptions resume;
  CLI::App* resume_verb = app.add_subcommand(
      "resume", "go on with a job's sweep that was cut off; what it had measured counts");
  resume_verb->add_option("JOB", resume.job, "the job's file")->required();
  resume_verb->add_option("--port", resume.port, "serial port of the tester; else as it was")
      ->type_name("NAME");
  add_json(*resume_verb, resume.json);
  resume_verb->callback([&] { status = resume_sweep(resume); });

  CompareOptions compare;
  CLI::App* compare_verb = app.add_subcommand(
      "compare", "set two board files side by side; nets are matched by their points");
  compare_verb->add_option("FIRST", compare.first, "a board file (board/1)")->required();
  compare_verb->add_option("SECOND", compare.second, "another")->required();
  compare_verb->add_option("--json", compare.json, "write it there as well; '-': standard output")
      ->type_name("FILE");
  compare_verb->callback([&] { status = compare_two_boards(compare); });

  CLI::App* ports_verb =
      app.add_subcommand("ports", "list the serial ports with what the system knows of them");
  ports_verb->callback([&] { status = list_serial_ports(); });

  SimulateOptions simulate;
  CLI::App* simulate_verb =
      app.add_subcommand("simulate", "run a simulated tester for another program until stopped");
  simulate_verb->add_option("BOARD", simulate.board, "the board file (board/1)")->required();
  simulate_verb->add_option("DEFECTS", simulate.defects, "a defects file (defects/1)");
  simulate_verb->add_option("--channels", simulate.channels, "channels of the simulated tester")
      ->type_name("N")
      ->check(CLI::Range(2, 4096));
  simulate_verb->callback([&] { status = simulate_tester(simulate); });

  ZeroOptions zero;
  CLI::App* zero_verb = app.add_subcommand(
      "zero", "measure what leads, contacts and open switches add, for the readings to come");
  CLI::Option* zero_port =
      zero_verb->add_option("--port", zero.port, "serial port of the tester; see 'padwalk ports'")
          ->type_name("NAME");
  CLI::Option* zero_simulate =
      zero_verb->add_flag("--simulate", zero.simulate, "no hardware: a simulated tester and person")
          ->excludes(zero_port);
  zero_verb->add_option("--leads", zero.leads, "which leads go on the wire; default 1-4")
      ->type_name("A-B");
  zero_verb->add_option("--channels", zero.channels, "channels of the simulated tester")
      ->type_name("N")
      ->check(CLI::Range(2, 4096))
      ->needs(zero_simulate);
  add_job(*zero_verb, zero.job);
  add_json(*zero_verb, zero.json);
  zero_verb->callback([&] {
    if (!zero.simulate && zero.port.empty()) {
      throw UsageError("zero needs a tester: --port NAME, or --simulate to try without one");
    }
    status = zero_tester(zero);
  });

  try {
    app.parse(argc, argv);
  } catch (const CLI::CallForHelp& help) {
    return app.exit(help);
  } catch (const CLI::CallForVersion& version) {
    return app.exit(version);
  } catch (const CLI::ParseError& error) {
    complain(fmt::format("{}; 'padwalk --help' lists the commands", error.what()));
    return static_cast<int>(ExitStatus::bad_input);
  } catch (const session::TesterError& error) {
    complain(error.what());
    return static_cast<int>(ExitStatus::failed);
  } catch (const std::bad_alloc&) {
    complain("there is not enough memory for this file");
    return static_cast<int>(ExitStatus::bad_input);
  } catch (const std::exception& error) {  // BadFile, PortError, UsageError, an output file
    complain(error.what());
    return static_cast<int>(ExitStatus::bad_input);
  }
  return static_cast<int>(status);
}

}  // namespace padwalk::tools
