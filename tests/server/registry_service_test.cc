// Goal: a member is answered from the server's own fold, and nobody else is answered. Method: a
// real server with two groups and an animal.

#include "server/registry_service.h"

#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "broodpact/v1/registry_service.grpc.pb.h"
#include "client/base/status.h"
#include "client/sync/connection.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

class RegistryServiceTest : public Cooperative {
 protected:
  RegistryServiceTest() {
    group_ = device::FreshId<GroupId>(device::SystemRandomness());
    animal_ = device::FreshId<AnimalId>(device::SystemRandomness());
    mira_.Commit({facts::GroupEntry{
        .group = group_, .name = "hamorii-colima", .taxon = "Brachypelma hamorii"}});
    mira_.Commit({facts::AnimalEntry{.animal = animal_,
                                     .group = group_,
                                     .name = "bh-m-07",
                                     .sex = facts::Sex::kMale,
                                     .sex_method = facts::SexMethod::kAdultForm}});
    EXPECT_TRUE(mira_.Sync().ok());
    Use(mira_.credentials());
  }

  void Use(const sync::Credentials& credentials) {
    stub_ = v1::RegistryService::NewStub(
        *sync::Connect(credentials, device::SystemClock().NowMillis()));
  }

  // The animal's owner, by its name there; or what was said instead.
  absl::StatusOr<v1::Animal> Animal(const std::string& name) {
    grpc::ClientContext context;
    v1::GetAnimalRequest request;
    request.set_animal(name);
    v1::GetAnimalResponse response;
    const grpc::Status status = stub_->GetAnimal(&context, request, &response);
    BP_RETURN_IF_ERROR(sync::FromGrpc(status, context, ""));
    return response.animal();
  }

  GroupId group_;
  AnimalId animal_;
  std::unique_ptr<v1::RegistryService::Stub> stub_;
};

TEST_F(RegistryServiceTest, ShowsAnAnimalByNameAndById) {
  for (const std::string& name :
       {std::string("bh-m-07"), ToText(animal_), ToText(animal_).substr(0, 12)}) {
    const auto animal = Animal(name);
    ASSERT_TRUE(animal.ok()) << animal.status();
    EXPECT_EQ(animal->id(), ToText(animal_));
    EXPECT_EQ(animal->name(), "bh-m-07");
  }
}

TEST_F(RegistryServiceTest, KnowsTheCooperative) {
  grpc::ClientContext context;
  v1::GetCooperativeResponse response;
  ASSERT_TRUE(stub_->GetCooperative(&context, {}, &response).ok());
  EXPECT_EQ(response.cooperative().name(), "hamorii");
  EXPECT_EQ(response.cooperative().keepers(), 2U);
  EXPECT_EQ(response.cooperative().animals(), 1U);
}

TEST_F(RegistryServiceTest, ListsAnimalsPageByPage) {
  for (int i = 0; i < 4; ++i) {
    mira_.Commit(
        {facts::AnimalEntry{.animal = device::FreshId<AnimalId>(device::SystemRandomness()),
                            .group = group_,
                            .name = "bh-f-0" + std::to_string(i)}});
  }
  ASSERT_TRUE(mira_.Sync().ok());
  std::set<std::string> ids;
  v1::ListAnimalsRequest request;
  request.set_group("hamorii-colima");
  request.set_page_size(2);
  int pages = 0;
  do {
    grpc::ClientContext context;
    v1::ListAnimalsResponse response;
    ASSERT_TRUE(stub_->ListAnimals(&context, request, &response).ok());
    for (const v1::Animal& animal : response.list().animals()) ids.insert(animal.id());
    request.set_page(response.list().next_page());
  } while (!request.page().empty() && ++pages < 10);
  EXPECT_EQ(ids.size(), 5U);
}

TEST_F(RegistryServiceTest, SaysWhatIsUnknownAndWhatIsNoQuestion) {
  EXPECT_EQ(ReasonOf(Animal("nobody").status()), "UNKNOWN_SUBJECT");
  EXPECT_EQ(ReasonOf(Animal("").status()), "QUERY_FORM");
  EXPECT_EQ(ReasonOf(Animal(std::string(500, 'x')).status()), "QUERY_FORM");
}

TEST_F(RegistryServiceTest, AnswersNobodyWithoutACertificate) {
  sync::Credentials nobody = mira_.credentials();
  nobody.certificate_pem.clear();
  nobody.key_pem.clear();
  Use(nobody);
  const auto animal = Animal("bh-m-07");
  EXPECT_EQ(animal.status().code(), absl::StatusCode::kUnauthenticated);
  EXPECT_EQ(ReasonOf(animal.status()), "NO_CERTIFICATE");
}

TEST_F(RegistryServiceTest, AnswersNobodyWhoseCertificateExpired) {
  ASSERT_TRUE(Animal("bh-m-07").ok());
  server_.clock().Move(366 * kDay);  // on a connection that stays
  EXPECT_EQ(ReasonOf(Animal("bh-m-07").status()), "CERTIFICATE_EXPIRED");
}

}  // namespace
}  // namespace broodpact::server
