#include "client/replica/view.h"

namespace broodpact::replica {

View::View(const registry::Source& source, KeeperId self, const registry::Layer* provisional)
    : source_(source), self_(self), provisional_(provisional) {}

}  // namespace broodpact::replica
