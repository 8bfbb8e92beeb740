// Goal: the contracts are documented, follow the usual protobuf style, and never break what keepers
// have signed. Method: read the compiled descriptors with their comments, and hold them against
// the numbers that are in use (released.txt).

#include <algorithm>
#include <cctype>
#include <fstream>
#include <functional>
#include <map>
#include <set>
#include <sstream>
#include <string>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/descriptor.pb.h>
#include <gtest/gtest.h>

namespace broodpact {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::DescriptorPool;
using google::protobuf::EnumDescriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::FileDescriptor;
using google::protobuf::FileDescriptorSet;
using google::protobuf::SourceLocation;

class ProtoStyle : public testing::Test {
 protected:
  void SetUp() override {
    std::ifstream file(BROODPACT_DESCRIPTORS, std::ios::binary);
    FileDescriptorSet set;
    ASSERT_TRUE(set.ParseFromIstream(&file)) << "cannot read the descriptors";
    for (const auto& proto : set.file()) {
      const FileDescriptor* const built = pool_.BuildFile(proto);
      ASSERT_NE(built, nullptr) << proto.name();
      files_.push_back(built);
    }
  }

  void ForEachMessage(const std::function<void(const Descriptor&)>& visit) const {
    for (const FileDescriptor* file : files_) {
      for (int i = 0; i < file->message_type_count(); ++i) visit(*file->message_type(i));
    }
  }

  DescriptorPool pool_;
  std::vector<const FileDescriptor*> files_;
};

template <typename Element>
bool IsCommented(const Element& element) {
  SourceLocation location;
  return element.GetSourceLocation(&location) && !location.leading_comments.empty();
}

bool IsSnakeCase(const std::string& name) {
  return std::all_of(name.begin(), name.end(), [](unsigned char c) {
    return std::islower(c) != 0 || std::isdigit(c) != 0 || c == '_';
  });
}

// "SexMethod" -> "SEX_METHOD_".
std::string ValuePrefix(const std::string& enum_name) {
  std::string prefix;
  for (const char c : enum_name) {
    if (std::isupper(static_cast<unsigned char>(c)) != 0 && !prefix.empty()) prefix += '_';
    prefix += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  return prefix + "_";
}

TEST_F(ProtoStyle, HasACommentOnEveryMessageFieldValueAndMethod) {
  ForEachMessage([](const Descriptor& message) {
    EXPECT_TRUE(IsCommented(message)) << message.full_name();
    for (int i = 0; i < message.field_count(); ++i) {
      EXPECT_TRUE(IsCommented(*message.field(i))) << message.field(i)->full_name();
    }
  });
  for (const FileDescriptor* file : files_) {
    for (int i = 0; i < file->enum_type_count(); ++i) {
      const EnumDescriptor& type = *file->enum_type(i);
      EXPECT_TRUE(IsCommented(type)) << type.full_name();
      for (int k = 0; k < type.value_count(); ++k) {
        EXPECT_TRUE(IsCommented(*type.value(k))) << type.value(k)->full_name();
      }
    }
    for (int i = 0; i < file->service_count(); ++i) {
      for (int k = 0; k < file->service(i)->method_count(); ++k) {
        EXPECT_TRUE(IsCommented(*file->service(i)->method(k)));
      }
    }
  }
}

TEST_F(ProtoStyle, NamesFieldsInSnakeCase) {
  ForEachMessage([](const Descriptor& message) {
    for (int i = 0; i < message.field_count(); ++i) {
      EXPECT_TRUE(IsSnakeCase(message.field(i)->name())) << message.field(i)->full_name();
    }
  });
}

TEST_F(ProtoStyle, BeginsEveryEnumWithUnspecifiedAndRepeatsItsNameInTheValues) {
  for (const FileDescriptor* file : files_) {
    for (int i = 0; i < file->enum_type_count(); ++i) {
      const EnumDescriptor& type = *file->enum_type(i);
      const std::string prefix = ValuePrefix(type.name());
      EXPECT_EQ(type.value(0)->number(), 0);
      EXPECT_EQ(type.value(0)->name(), prefix + "UNSPECIFIED");
      for (int k = 0; k < type.value_count(); ++k) {
        EXPECT_EQ(type.value(k)->name().rfind(prefix, 0), 0U) << type.value(k)->full_name();
      }
    }
  }
}

TEST_F(ProtoStyle, NamesRequestsAndResponsesAfterTheirMethod) {
  for (const FileDescriptor* file : files_) {
    for (int i = 0; i < file->service_count(); ++i) {
      EXPECT_TRUE(file->name().ends_with("_service.proto")) << file->name();
      for (int k = 0; k < file->service(i)->method_count(); ++k) {
        const auto& method = *file->service(i)->method(k);
        EXPECT_EQ(method.input_type()->name(), method.name() + "Request");
        EXPECT_EQ(method.output_type()->name(), method.name() + "Response");
      }
    }
  }
}

// 64-bit numbers print as text in JSON, bytes as base64: neither belongs in what `--json` shows.
TEST_F(ProtoStyle, ShowsNoWideNumbersAndNoBytesInTheRegistry) {
  for (const FileDescriptor* file : files_) {
    if (!file->name().ends_with("/registry.proto")) continue;
    for (int i = 0; i < file->message_type_count(); ++i) {
      const Descriptor& message = *file->message_type(i);
      for (int k = 0; k < message.field_count(); ++k) {
        const FieldDescriptor& field = *message.field(k);
        EXPECT_NE(field.type(), FieldDescriptor::TYPE_BYTES) << field.full_name();
        EXPECT_NE(field.cpp_type(), FieldDescriptor::CPPTYPE_INT64) << field.full_name();
        EXPECT_NE(field.cpp_type(), FieldDescriptor::CPPTYPE_UINT64) << field.full_name();
      }
    }
  }
}

// released.txt has a line "message.field number type" for every field in use. It only grows;
// BROODPACT_REWRITE=1 writes it, and the diff must show added lines alone.
TEST_F(ProtoStyle, KeepsNumberAndTypeOfEveryFieldInUse) {
  std::map<std::string, std::string> now;
  ForEachMessage([&](const Descriptor& message) {
    for (int i = 0; i < message.field_count(); ++i) {
      const FieldDescriptor& field = *message.field(i);
      std::string type = field.type_name();
      if (field.message_type() != nullptr) type = field.message_type()->full_name();
      if (field.enum_type() != nullptr) type = field.enum_type()->full_name();
      now[field.full_name()] =
          std::to_string(field.number()) + " " + (field.is_repeated() ? "repeated " : "") + type;
    }
  });
  if (std::getenv("BROODPACT_REWRITE") != nullptr) {  // NOLINT(concurrency-mt-unsafe): one thread
    std::ofstream file(BROODPACT_RELEASED);
    for (const auto& [name, is] : now) file << name << ' ' << is << '\n';
  }
  std::ifstream file(BROODPACT_RELEASED);
  ASSERT_TRUE(file);
  int lines = 0;
  for (std::string line; std::getline(file, line); ++lines) {
    const std::size_t space = line.find(' ');
    const std::string name = line.substr(0, space);
    ASSERT_TRUE(now.contains(name))
        << name << " went away; reserve its number and keep its line out";
    EXPECT_EQ(now[name], line.substr(space + 1)) << name << " changed";
  }
  EXPECT_GT(lines, 100);
}

}  // namespace
}  // namespace broodpact
