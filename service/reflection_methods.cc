#include "service/reflection_methods.h"

#include <set>
#include <utility>

#include "google/protobuf/descriptor.h"
#include "google/protobuf/descriptor.pb.h"
#include "grpc/reflection/v1alpha/reflection.pb.h"
#include "grpcpp/support/status.h"
#include "service/method.h"

namespace ferrule::service {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::DescriptorPool;
using google::protobuf::FieldDescriptor;
using google::protobuf::FileDescriptor;
using grpc::reflection::v1alpha::ServerReflectionRequest;
using grpc::reflection::v1alpha::ServerReflectionResponse;

const DescriptorPool& Words() { return *DescriptorPool::generated_pool(); }

void NotFound(const std::string& what, ServerReflectionResponse* response) {
  auto* error = response->mutable_error_response();
  error->set_error_code(grpc::StatusCode::NOT_FOUND);
  error->set_error_message("not served here: " + what);
}

// The file after those that it imports, each once.
void AddFile(const FileDescriptor& file, std::set<std::string>* given,
             ServerReflectionResponse* response) {
  if (!given->insert(file.name()).second) return;
  google::protobuf::FileDescriptorProto form;
  file.CopyTo(&form);
  *response->mutable_file_descriptor_response()->add_file_descriptor_proto() =
      form.SerializeAsString();
  for (int i = 0; i < file.dependency_count(); ++i) AddFile(*file.dependency(i), given, response);
}

void PutFile(const FileDescriptor* file, const std::string& asked,
             ServerReflectionResponse* response) {
  if (file == nullptr) return NotFound(asked, response);
  std::set<std::string> given;
  AddFile(*file, &given, response);
}

const FileDescriptor* FileOfExtension(const std::string& type, int number) {
  const Descriptor* extended = Words().FindMessageTypeByName(type);
  if (extended == nullptr) return nullptr;
  const FieldDescriptor* extension = Words().FindExtensionByNumber(extended, number);
  return extension == nullptr ? nullptr : extension->file();
}

void PutExtensions(const std::string& type, ServerReflectionResponse* response) {
  const Descriptor* extended = Words().FindMessageTypeByName(type);
  if (extended == nullptr) return NotFound(type, response);
  std::vector<const FieldDescriptor*> extensions;
  Words().FindAllExtensions(extended, &extensions);
  auto* out = response->mutable_all_extension_numbers_response();
  out->set_base_type_name(type);
  for (const FieldDescriptor* extension : extensions) {
    out->add_extension_number(extension->number());
  }
}

void AnswerOne(const std::vector<std::string>& services, const ServerReflectionRequest& request,
               ServerReflectionResponse* response) {
  response->set_valid_host(request.host());
  *response->mutable_original_request() = request;
  switch (request.message_request_case()) {
    case ServerReflectionRequest::kFileByFilename:
      return PutFile(Words().FindFileByName(request.file_by_filename()), request.file_by_filename(),
                     response);
    case ServerReflectionRequest::kFileContainingSymbol:
      return PutFile(Words().FindFileContainingSymbol(request.file_containing_symbol()),
                     request.file_containing_symbol(), response);
    case ServerReflectionRequest::kFileContainingExtension: {
      const auto& asked = request.file_containing_extension();
      return PutFile(FileOfExtension(asked.containing_type(), asked.extension_number()),
                     asked.containing_type(), response);
    }
    case ServerReflectionRequest::kAllExtensionNumbersOfType:
      return PutExtensions(request.all_extension_numbers_of_type(), response);
    case ServerReflectionRequest::kListServices:
      for (const std::string& name : services) {
        response->mutable_list_services_response()->add_service()->set_name(name);
      }
      return;
    case ServerReflectionRequest::MESSAGE_REQUEST_NOT_SET:
      response->mutable_error_response()->set_error_code(grpc::StatusCode::INVALID_ARGUMENT);
      response->mutable_error_response()->set_error_message("ask for a file, a symbol or the list");
  }
}

}  // namespace

std::vector<Method> ReflectionMethods(std::vector<std::string> services) {
  return {Exchange<ServerReflectionRequest, ServerReflectionResponse>(
      "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
      [services = std::move(services)](const ServerReflectionRequest& request,
                                       ServerReflectionResponse* response) {
        AnswerOne(services, request, response);
      })};
}

}  // namespace ferrule::service
