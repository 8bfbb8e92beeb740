#include "client/store/state_digest.h"

#include "client/base/bytes.h"

namespace broodpact::store {
namespace {

constexpr std::size_t kPieceBytes = 65'536;

}  // namespace

void StateHasher::Add(std::string_view key, std::string_view value) {
  ByteWriter writer(piece_);
  writer.Raw(key);
  writer.Text(value);
  ++subjects_;
  if (piece_.size() >= kPieceBytes) HashPiece();
}

Hash StateHasher::Finish() {
  if (!piece_.empty()) HashPiece();
  return digest_;
}

void StateHasher::HashPiece() {
  digest_ = Sha256({ViewOf(digest_), piece_});
  piece_.clear();
}

}  // namespace broodpact::store
