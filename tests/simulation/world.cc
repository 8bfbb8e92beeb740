#include "tests/simulation/world.h"

#include <algorithm>
#include <cstdlib>
#include <set>
#include <sstream>
#include <system_error>
#include <utility>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/replica/acts_group.h"
#include "client/sync/invite_code.h"
#include "tests/simulation/deeds.h"
#include "tests/simulation/hostile.h"
#include "tests/simulation/tamper.h"

namespace broodpact::simulation {
namespace {

// Rounds of syncing after the last fault, at most.
constexpr int kRoundsMax = 4;

constexpr std::int64_t kBetweenActionsMs = 6 * 3'600'000;
constexpr std::size_t kKeepersMax = 6;

// A folder in memory, where the machine has such a place: what is simulated is the loss of what was
// not synced, so nothing real has to be.
std::filesystem::path FreshFolder() {
  std::error_code error;
  const std::filesystem::path memory("/dev/shm");
  std::filesystem::path base = std::filesystem::temp_directory_path();
  if (std::getenv("TMPDIR") == nullptr && std::filesystem::is_directory(memory, error)) {
    base = memory;
  }
  std::string name = (base / "broodpact-simulation-XXXXXX").string();
  BP_CHECK(mkdtemp(name.data()) != nullptr);
  return name;
}

}  // namespace

World::World(std::uint64_t seed, Planted planted, std::ostream* trace)
    : planted_(planted), trace_(trace), dice_(seed ^ 0x0B700D9AC7U), folder_(FreshFolder()) {
  server_ = std::make_unique<ServerNode>(folder_ / "server", now_ms_);
  if (planted_ == Planted::kServerDiskLies) server_->machine().disk().LieAboutSyncs();
  // One that admits what it lost is given it back, and nothing is amiss.
  server_->admits_losses =
      planted_ != Planted::kServerDiskLies && planted_ != Planted::kServerForgets;
}

World::~World() {
  keepers_.clear();
  server_.reset();
  std::error_code ignored;  // a folder that stays is no reason to fail
  std::filesystem::remove_all(folder_, ignored);
}

// -- Keepers and the server ---------------------------------------------------------------------

KeeperNode& World::AddKeeper(const std::string& name) {
  keepers_.push_back(
      std::make_unique<KeeperNode>(name, folder_ / name, *server_, now_ms_, dice_.Next()));
  codes_.emplace_back();
  joined_.push_back(false);
  backups_.emplace_back();
  if (planted_ == Planted::kKeeperDiskLies) keepers_.back()->machine().disk().LieAboutSyncs();
  keepers_.back()->forgets_first_times = planted_ == Planted::kFirstTimesForgotten;
  return *keepers_.back();
}

KeeperNode& World::AnyKeeper(Dice& dice) {
  return *keepers_[dice.Roll(keepers_.size())];
}

bool World::Opened(KeeperNode& keeper) {
  return IsOpen(keeper, keeper.Open());
}

bool World::OpenedToSync(KeeperNode& keeper, sync::Mode mode) {
  const bool anew = mode == sync::Mode::kOnce && ++syncs_ % 2 == 0;
  return !anew || IsOpen(keeper, keeper.ReopenToSync());
}

bool World::IsOpen(KeeperNode& keeper, const absl::Status& status) {
  if (status.ok()) return true;
  if (!keeper.machine().disk().dead()) {
    witness_.Complain(fmt::format("{} cannot open the replica: {}", keeper.name(), TextOf(status)));
  }
  return false;
}

void World::StartServer() {
  if (server_->runs()) return;
  const absl::Status status = server_->Start();
  Tell("  the server starts: {}", TextOf(status));
  if (!status.ok()) {
    witness_.Complain(fmt::format("the server cannot start: {}", TextOf(status)));
  }
}

void World::SetUp() {
  StartServer();
  KeeperNode& founder = AddKeeper("mira");
  BP_CHECK(founder.Start().ok());
  BP_CHECK(Opened(founder));
  BP_CHECK(founder.replica().Found("show-room").ok());
  codes_[0] = sync::BuildInviteCode({.cooperative = {},
                                     .authority = {},
                                     .secret = std::string(16, 'c'),
                                     .address = server_->address()});
  witness_.NoteKept(founder.name(), founder.replica());
  BeginJoin(founder);
  RunToEnd(founder, dice_);
  BP_CHECK(joined_[0]);
  Enter(dice_);
  Enter(dice_);
  for (const auto& keeper : keepers_) {
    BP_CHECK(FurnishWith(keeper->replica(), keeper->name()).ok());
    witness_.NoteKept(keeper->name(), keeper->replica());
    Sync(*keeper, dice_);
  }
  set_up_ = true;
}

std::size_t World::IndexOf(const KeeperNode& keeper) const {
  const auto place =
      std::ranges::find_if(keepers_, [&](const auto& one) { return one.get() == &keeper; });
  BP_CHECK(place != keepers_.end());
  return static_cast<std::size_t>(place - keepers_.begin());
}

void World::NoteJoined(const KeeperNode& keeper) {
  const auto credentials = replica::Home(keeper.folder()).ReadCredentials();
  joined_[IndexOf(keeper)] = credentials.ok() && credentials->has_value();
}

void World::CrashKeeper(KeeperNode& keeper, Dice& dice) {
  const Ending ending = AnyEnding(dice);
  Tell("  {} dies ({})", keeper.name(), ending == Ending::kKilled ? "killed" : "power loss");
  keeper.Crash(ending, dice);
  NoteJoined(keeper);
  if (planted_ == Planted::kPendingForgotten) ForgetPending(keeper.machine().folder() / "replica");
}

void World::CrashServer(Dice& dice) {
  const Ending ending = AnyEnding(dice);
  Tell("  the server dies ({})", ending == Ending::kKilled ? "killed" : "power loss");
  server_->Crash(ending, dice);
  if (planted_ == Planted::kServerForgets && std::filesystem::exists(folder_ / "server-before")) {
    CopyFolder(folder_ / "server-before", server_->machine().folder());
  }
  for (const auto& keeper : keepers_) {
    if (keeper->entry != nullptr) keeper->gives_up = true;
  }
}

// -- What keepers do ----------------------------------------------------------------------------

void World::Deeds(KeeperNode& keeper, Dice& dice, std::size_t count) {
  if (keeper.busy() || !Opened(keeper)) return;
  if (keeper.replica().cooperative() == Hash{}) return;
  for (std::size_t i = 0; i < count; ++i) {
    const Deed deed = DoSomething(keeper.replica(), dice);
    Tell("  {} {}: {}", keeper.name(), deed.what, TextOf(deed.status));
    if (keeper.machine().disk().dead()) {
      CrashKeeper(keeper, dice);
      return;
    }
    if (IsAlarm(deed.status) || (!deed.status.ok() && ReasonOf(deed.status).empty())) {
      witness_.Complain(fmt::format("{} {}: {}", keeper.name(), deed.what, TextOf(deed.status)));
    }
  }
  witness_.NoteKept(keeper.name(), keeper.replica());
}

void World::BeginSync(KeeperNode& keeper, sync::Mode mode) {
  if (keeper.busy() || !Opened(keeper)) return;
  if (IsBehind(keeper)) return BeginMove(keeper);
  if (!OpenedToSync(keeper, mode)) return;
  keeper.Begin([this, &keeper, mode]() -> absl::Status {
    sync::Options options;
    options.mode = mode;
    options.now_ms = keeper.machine().clock().NowMillis();
    options.stop = keeper.stop.get_token();
    const absl::StatusOr<replica::Synced> synced = keeper.replica().Sync(options);
    if (!synced.ok()) return synced.status();
    if (synced->repair) {
      Tell("  {} mends a loss of the server's: {} given back, {} delivered again{}", keeper.name(),
           synced->repair->given_back, synced->repair->delivered_again,
           synced->repair->rewound_to ? ", and goes back itself" : "");
    }
    for (const replica::ChangedVerdict& changed : synced->changed) {
      const bool named = !changed.after.message.empty() || !changed.after.reason.empty() ||
                         changed.after.kind == registry::VerdictKind::kCounted;
      if (!named) {
        witness_.Complain(
            fmt::format("finality: arrival {} of {} changed its verdict and nothing "
                        "says why",
                        changed.arrival, keeper.name()));
      }
    }
    return absl::OkStatus();
  });
  keeper.follows = mode == sync::Mode::kFollow;
}

void World::BeginJoin(KeeperNode& keeper) {
  if (keeper.busy() || !Opened(keeper)) return;
  keeper.Begin([this, &keeper]() -> absl::Status {
    const absl::Status status = keeper.replica().Join(CodeOf(keeper));
    NoteJoined(keeper);
    return status;
  });
}

void World::Sync(KeeperNode& keeper, Dice& dice) {
  BeginSync(keeper, sync::Mode::kOnce);
  RunToEnd(keeper, dice);
}

void World::Enter(Dice& dice) {
  const std::vector<std::string> names = {"mira", "tomas", "bela", "iva", "olen", "wanda"};
  std::vector<std::size_t> outside;
  for (std::size_t i = 0; i < keepers_.size(); ++i) {
    if (!joined_[i]) outside.push_back(i);
  }
  if (!outside.empty()) {
    KeeperNode& again = *keepers_[dice.AnyOf(outside)];
    Tell("  {} tries to join again", again.name());
    BeginJoin(again);
    RunToEnd(again, dice);
    return;
  }
  KeeperNode& founder = *keepers_.front();
  if (keepers_.size() >= kKeepersMax || founder.busy() || !Opened(founder)) return;
  const absl::StatusOr<std::string> code =
      founder.replica().Invite(facts::Role::kKeeper, names[keepers_.size()]);
  if (founder.machine().disk().dead()) return CrashKeeper(founder, dice);
  if (!code.ok()) return;
  witness_.NoteKept(founder.name(), founder.replica());
  Sync(founder, dice);
  KeeperNode& newcomer = AddKeeper(names[keepers_.size()]);
  codes_.back() = *code;
  const absl::Status started = newcomer.Start();
  if (!started.ok()) return witness_.Complain("a newcomer cannot start: " + TextOf(started));
  BeginJoin(newcomer);
  RunToEnd(newcomer, dice);
}

void World::Send(KeeperNode& keeper, Dice& dice) {
  if (!server_->runs() || !keeper.open() || server_->store().point().arrivals == 0) return;
  if (planted_ == Planted::kDoorOpen) {
    server_->log().Submit({.run = RunOfStranger(server_->log().cooperative(), dice),
                           .meta = {},
                           .founds = false,
                           .answer = [](const absl::StatusOr<server::Receipt>&) {}});
    return;
  }
  const HostileSending sending = HostileSendingOf(keeper, *server_, dice);
  if (sending.without_effect) witness_.NoteHostile(*sending.without_effect);
  const std::uint64_t before = server_->store().point().arrivals;
  const std::shared_ptr<Wire> wire = server_->Connect(sending.caller);
  for (const v1::SyncRequest& request : sending.requests) wire->Send(request);
  wire->SendEnd();
  absl::Status answer;
  for (std::size_t i = 0; i < 64 && !wire->over(); ++i) {
    if (wire->CanDeliverUp()) wire->DeliverUp();
    if (wire->CanConfirmWrite()) wire->ConfirmWrite();
    server_->Work();
    if (server_->machine().disk().dead()) break;
    while (wire->CanDeliverDown()) {
      wire->DeliverDown();
      const Down down = wire->TakeArrived();
      if (!down.message) answer = down.end;
    }
  }
  Tell("  with the key of {}: {}: {}", keeper.name(), sending.what, TextOf(answer));
  if (server_->machine().disk().dead()) return CrashServer(dice);
  AfterThing(dice);
  if (!sending.refused) return;
  if (answer.ok() || ReasonOf(answer).empty()) {
    witness_.Complain(fmt::format("bounded work: {} is not refused with a reason", sending.what));
  }
  if (IsAmong(sending, server_->store(), before)) {
    witness_.Complain(fmt::format("authority: {} got into the log", sending.what));
  }
}

void World::Meddle(Dice& dice) {
  for (const std::shared_ptr<Wire>& wire : server_->wires()) {
    const auto mischief = static_cast<Mischief>(dice.Roll(3));
    if (wire->Meddle(mischief)) Tell("  a relay meddles with a stream");
  }
}

void World::Bundle(KeeperNode& from, KeeperNode& to, Dice& dice) {
  if (&from == &to || from.busy() || to.busy() || !Opened(from) || !Opened(to)) return;
  if (from.replica().cooperative() == Hash{} || to.replica().cooperative() == Hash{}) return;
  std::ostringstream out;
  const auto written = from.replica().WriteBundle(out, std::nullopt);
  if (!written.ok()) {
    return witness_.Complain(
        fmt::format("{} cannot write a bundle: {}", from.name(), TextOf(written.status())));
  }
  std::string bytes = out.str();
  const std::uint32_t fate = dice.Roll(4);
  if (fate == 0) bytes.resize(dice.Roll(bytes.size()));
  if (fate == 1) {
    char& byte = bytes[dice.Roll(bytes.size())];
    byte = static_cast<char>(byte ^ (1 << dice.Roll(8)));
  }
  std::istringstream in(bytes);
  const auto read = to.replica().ReadBundle(in);
  Tell("  a bundle of {}, {}, is read by {}: {}", from.name(),
       fate == 0   ? "cut short"
       : fate == 1 ? "damaged"
                   : "whole",
       to.name(), TextOf(read.status()));
  if (to.machine().disk().dead()) return CrashKeeper(to, dice);
  // Without a network nobody can tell a server that was put back from one that tells two histories.
  const bool may_doubt = server_put_back_ && ReasonOf(read.status()) == "LOG_FORKED";
  if (fate > 1 && !read.ok() && !may_doubt) {
    witness_.Complain(
        fmt::format("{} cannot read a whole bundle: {}", to.name(), TextOf(read.status())));
  }
  witness_.NoteVerdicts(to.name(), to.replica().store());
}

void World::Verify(KeeperNode& keeper, Dice& dice) {
  if (keeper.busy() || !Opened(keeper)) return;
  const bool rebuilds = dice.Once(2);
  const auto verified = rebuilds ? keeper.replica().Rebuild() : keeper.replica().Verify();
  Tell("  {} {}: {}", keeper.name(), rebuilds ? "rebuilds" : "verifies", TextOf(verified.status()));
  if (keeper.machine().disk().dead()) return CrashKeeper(keeper, dice);
  if (!verified.ok() || !verified->faults.empty()) {
    witness_.Complain(
        fmt::format("{} is not verified: {}", keeper.name(),
                    verified.ok() ? verified->faults.front() : TextOf(verified.status())));
  }
}

void World::Do(std::size_t number, const Action& action) {
  Dice dice(action.seed);
  now_ms_ += dice.Roll(kBetweenActionsMs);
  Tell("{} {}", number, NameOf(action.kind));
  switch (action.kind) {
    case ActionKind::kDeeds:
      Deeds(AnyKeeper(dice), dice, 1 + dice.Roll(4));
      break;
    case ActionKind::kSync:
      if (!dice.Once(4)) StartServer();
      BeginSync(AnyKeeper(dice), sync::Mode::kOnce);
      Messages(dice, dice.Once(3) ? dice.Roll(12) : 200);
      break;
    case ActionKind::kFollow:
      BeginSync(AnyKeeper(dice), sync::Mode::kFollow);
      Messages(dice, dice.Roll(30));
      break;
    case ActionKind::kMessages:
      Messages(dice, dice.Roll(40));
      break;
    case ActionKind::kKeeperCrash:
      CrashKeeper(AnyKeeper(dice), dice);
      break;
    case ActionKind::kKeeperCrashSoon:
      AnyKeeper(dice).machine().disk().DieAfter(dice.Roll(8), dice.Next());
      break;
    case ActionKind::kServerCrash:
      CrashServer(dice);
      if (!dice.Once(3)) StartServer();
      break;
    case ActionKind::kServerCrashSoon:
      server_->machine().disk().DieAfter(dice.Roll(6), dice.Next());
      break;
    case ActionKind::kCutOff: {
      KeeperNode& keeper = AnyKeeper(dice);
      keeper.cut_off = true;
      if (keeper.wire != nullptr) keeper.wire->Break();
      AfterThing(dice);
      break;
    }
    case ActionKind::kReachable:
      AnyKeeper(dice).cut_off = false;
      StartServer();
      break;
    case ActionKind::kClock:
      JumpClock(dice);
      break;
    case ActionKind::kBackUp:
      BackUp(AnyKeeper(dice));
      break;
    case ActionKind::kRestore:
      Restore(AnyKeeper(dice), dice);
      break;
    case ActionKind::kCopy:
      Copy(AnyKeeper(dice), dice);
      break;
    case ActionKind::kHostile:
      Send(AnyKeeper(dice), dice);
      break;
    case ActionKind::kMeddle:
      Meddle(dice);
      AnyKeeper(dice).turned_away = dice.Roll(4);
      Messages(dice, 20);
      break;
    case ActionKind::kBundle:
      Bundle(AnyKeeper(dice), AnyKeeper(dice), dice);
      break;
    case ActionKind::kJoin:
      Enter(dice);
      break;
    case ActionKind::kRevoke:
      Revoke(AnyKeeper(dice), dice);
      break;
    case ActionKind::kVerify:
      Verify(AnyKeeper(dice), dice);
      break;
    case ActionKind::kServerBackUp:
      BackUpServer(dice);
      break;
    case ActionKind::kServerRestore:
      RestoreServer(dice);
      break;
    case ActionKind::kServerReplaced:
      ReplaceServer(dice);
      break;
  }
  // Lives that end by themselves end between two actions at the latest.
  if (server_->machine().disk().dead()) CrashServer(dice);
  for (const auto& keeper : keepers_) {
    if (keeper->machine().disk().dead()) CrashKeeper(*keeper, dice);
  }
}

// -- The end ------------------------------------------------------------------------------------

void World::Settle() {
  Tell("faults stop");
  server_->machine().disk().Disarm();
  StartServer();
  for (const auto& keeper : keepers_) {
    keeper->machine().disk().Disarm();
    keeper->cut_off = false;
    keeper->turned_away = 0;
    if (keeper->follows) keeper->stop.request_stop();
    RunToEnd(*keeper, dice_);
  }
  if (server_->runs() && !server_->log().claimed()) TakeOver(dice_);
  // Whoever enters in a round, by an invitation that somebody has brought in it, writes behind
  // those who have synced before him: they have a round more.
  bool entered = false;
  for (rounds_ = 1; rounds_ <= 2 || (entered && rounds_ <= kRoundsMax); ++rounds_) {
    Tell("everybody syncs, time {}", rounds_);
    entered = false;
    for (std::size_t i = 0; i < keepers_.size(); ++i) {
      KeeperNode& keeper = *keepers_[i];
      if (!Opened(keeper)) continue;
      const bool was_in = joined_[i];
      if (!was_in) BeginJoin(keeper);
      RunToEnd(keeper, dice_);
      entered = entered || (joined_[i] && !was_in);
      if (joined_[i]) Sync(keeper, dice_);
      if (std::exchange(keeper.shut_out, false)) Readmit(keeper);
      HandOver(keeper);
    }
  }
  TamperAtEnd(*this);
}

}  // namespace broodpact::simulation
