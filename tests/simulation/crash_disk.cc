#include "tests/simulation/crash_disk.h"

#include <algorithm>
#include <filesystem>
#include <map>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>

#include "rocksdb/env.h"
#include "rocksdb/file_system.h"

namespace broodpact::simulation {
namespace {

struct Written {
  std::uint64_t size = 0;
  std::uint64_t synced = 0;
};

rocksdb::IOStatus Dead() {
  return rocksdb::IOStatus::IOError("the machine is off");
}

}  // namespace

// Background threads of RocksDB write too.
struct CrashDisk::State {
  std::mutex mutex;
  bool dead = false;
  bool lies = false;
  std::optional<std::uint32_t> writes_left;
  std::uint64_t torn_seed = 0;
  std::map<std::string, Written> files;
  CrashDisk* owner = nullptr;

  bool IsDead() {
    const std::lock_guard lock(mutex);
    return dead;
  }

  // How much of a write of log bytes happens: all of it, unless it is the last one.
  std::size_t Admit(const std::string& name, std::size_t size) {
    {
      const std::lock_guard lock(mutex);
      if (dead) return 0;
      if (!writes_left.has_value() || !name.ends_with(".log")) return size;
      if (*writes_left > 0) {
        --*writes_left;
        return size;
      }
      dead = true;
      size = Dice(torn_seed).Roll(size + 1);
    }
    if (owner->on_death) owner->on_death();
    return size;
  }
};

namespace {

class File final : public rocksdb::FSWritableFileOwnerWrapper {
 public:
  using Admit = std::function<std::size_t(const std::string&, std::size_t)>;
  using Note = std::function<void(const std::string&, std::size_t, bool)>;
  using IsDead = std::function<bool()>;

  File(std::unique_ptr<rocksdb::FSWritableFile>&& file, std::string name, Admit admit, Note note,
       IsDead is_dead)
      : FSWritableFileOwnerWrapper(std::move(file)),
        name_(std::move(name)),
        admit_(std::move(admit)),
        note_(std::move(note)),
        is_dead_(std::move(is_dead)) {}

  rocksdb::IOStatus Append(const rocksdb::Slice& data, const rocksdb::IOOptions& options,
                           rocksdb::IODebugContext* context) override {
    if (is_dead_()) return Dead();
    const std::size_t admitted = admit_(name_, data.size());
    rocksdb::IOStatus status =
        target()->Append(rocksdb::Slice(data.data(), admitted), options, context);
    if (status.ok()) note_(name_, admitted, false);
    return is_dead_() ? Dead() : status;
  }
  rocksdb::IOStatus Append(const rocksdb::Slice& data, const rocksdb::IOOptions& options,
                           const rocksdb::DataVerificationInfo& /*info*/,
                           rocksdb::IODebugContext* context) override {
    return Append(data, options, context);
  }
  rocksdb::IOStatus Sync(const rocksdb::IOOptions& options,
                         rocksdb::IODebugContext* context) override {
    if (is_dead_()) return Dead();
    rocksdb::IOStatus status = target()->Sync(options, context);
    if (status.ok()) note_(name_, 0, true);
    return status;
  }
  rocksdb::IOStatus Fsync(const rocksdb::IOOptions& options,
                          rocksdb::IODebugContext* context) override {
    return Sync(options, context);
  }
  rocksdb::IOStatus Truncate(std::uint64_t size, const rocksdb::IOOptions& options,
                             rocksdb::IODebugContext* context) override {
    if (is_dead_()) return Dead();
    return target()->Truncate(size, options, context);
  }
  // Room made ahead would be real memory here, tens of megabytes a database.
  void SetPreallocationBlockSize(std::size_t /*size*/) override {}
  void PrepareWrite(std::size_t /*offset*/, std::size_t /*size*/,
                    const rocksdb::IOOptions& /*options*/,
                    rocksdb::IODebugContext* /*context*/) override {}
  rocksdb::IOStatus Allocate(std::uint64_t /*offset*/, std::uint64_t /*size*/,
                             const rocksdb::IOOptions& /*options*/,
                             rocksdb::IODebugContext* /*context*/) override {
    return rocksdb::IOStatus::OK();
  }
  bool IsSyncThreadSafe() const override { return false; }

 private:
  const std::string name_;
  const Admit admit_;
  const Note note_;
  const IsDead is_dead_;
};

}  // namespace

class CrashDisk::Files final : public rocksdb::FileSystemWrapper {
 public:
  explicit Files(std::shared_ptr<State> state)
      : FileSystemWrapper(rocksdb::FileSystem::Default()), state_(std::move(state)) {}

  const char* Name() const override { return "CrashDisk"; }

  rocksdb::IOStatus NewWritableFile(const std::string& name, const rocksdb::FileOptions& options,
                                    std::unique_ptr<rocksdb::FSWritableFile>* file,
                                    rocksdb::IODebugContext* context) override {
    if (state_->IsDead()) return Dead();
    // RocksDB writes its options down at every opening, for people to read, and reads them back to
    // be sure: two thirds of what a history costs. It does without where it cannot write them.
    if (std::filesystem::path(name).filename().string().starts_with("OPTIONS-")) {
      return rocksdb::IOStatus::NotSupported("no options files here");
    }
    std::unique_ptr<rocksdb::FSWritableFile> real;
    rocksdb::IOStatus status = target()->NewWritableFile(name, options, &real, context);
    if (!status.ok()) return status;
    {
      const std::lock_guard lock(state_->mutex);
      state_->files[name] = {};
    }
    *file = std::make_unique<File>(
        std::move(real), name,
        [state = state_](const std::string& of, std::size_t size) {
          return state->Admit(of, size);
        },
        [state = state_](const std::string& of, std::size_t more, bool synced) {
          const std::lock_guard lock(state->mutex);
          Written& written = state->files[of];
          written.size += more;
          if (synced && !state->lies) written.synced = written.size;
        },
        [state = state_] { return state->IsDead(); });
    return status;
  }
  rocksdb::IOStatus DeleteFile(const std::string& name, const rocksdb::IOOptions& options,
                               rocksdb::IODebugContext* context) override {
    if (state_->IsDead()) return Dead();
    {
      const std::lock_guard lock(state_->mutex);
      state_->files.erase(name);
    }
    return target()->DeleteFile(name, options, context);
  }
  rocksdb::IOStatus RenameFile(const std::string& from, const std::string& to,
                               const rocksdb::IOOptions& options,
                               rocksdb::IODebugContext* context) override {
    if (state_->IsDead()) return Dead();
    {
      const std::lock_guard lock(state_->mutex);
      const auto found = state_->files.find(from);
      if (found != state_->files.end()) {
        state_->files[to] = found->second;
        state_->files.erase(from);
      }
    }
    return target()->RenameFile(from, to, options, context);
  }

 private:
  const std::shared_ptr<State> state_;
};

Ending AnyEnding(Dice& dice) {
  return dice.Once(2) ? Ending::kKilled : Ending::kPowerLoss;
}

CrashDisk::CrashDisk() : state_(std::make_shared<State>()) {
  state_->owner = this;
  disk_ = rocksdb::NewCompositeEnv(std::make_shared<Files>(state_));
}

CrashDisk::~CrashDisk() = default;

store::Disk& CrashDisk::disk() {
  return *disk_;
}

void CrashDisk::DieAfter(std::uint32_t writes, std::uint64_t torn_seed) {
  const std::lock_guard lock(state_->mutex);
  state_->writes_left = writes;
  state_->torn_seed = torn_seed;
}

void CrashDisk::Disarm() {
  const std::lock_guard lock(state_->mutex);
  state_->writes_left.reset();
}

void CrashDisk::Die() {
  {
    const std::lock_guard lock(state_->mutex);
    if (state_->dead) return;
    state_->dead = true;
  }
  if (on_death) on_death();
}

bool CrashDisk::dead() const {
  return state_->IsDead();
}

void CrashDisk::Revive(Ending ending, Dice& dice) {
  const std::lock_guard lock(state_->mutex);
  for (const auto& [name, written] : state_->files) {
    if (ending == Ending::kKilled || written.synced == written.size) continue;
    std::error_code gone;  // a file that was deleted before
    const std::uint64_t kept = written.synced + dice.Roll(written.size - written.synced + 1);
    if (std::filesystem::exists(name, gone)) std::filesystem::resize_file(name, kept, gone);
  }
  state_->files.clear();
  state_->writes_left.reset();
  state_->dead = false;
}

void CrashDisk::LieAboutSyncs() {
  const std::lock_guard lock(state_->mutex);
  state_->lies = true;
}

}  // namespace broodpact::simulation
