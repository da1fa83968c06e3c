"""A gRPC client that knows nothing of a service but what the server tells about itself.

Descriptors come over grpc.reflection.v1alpha; the only words known beforehand are those of the
reflection service itself, compiled from the published proto when they are needed.
"""

import os
import subprocess
import tempfile

import grpc
from google.protobuf import descriptor_pb2, descriptor_pool, json_format, message_factory

PROTOS = "/usr/share/grpc-proto"
REFLECTION = "grpc.reflection.v1alpha"
TIMEOUT_S = 20


def _reflection_files():
    """The reflection service's own descriptors."""
    with tempfile.TemporaryDirectory() as folder:
        out = os.path.join(folder, "reflection.binpb")
        subprocess.run(
            ["protoc", "-I", PROTOS, "--include_imports", "--descriptor_set_out=" + out,
             "grpc/reflection/v1alpha/reflection.proto"], check=True, timeout=TIMEOUT_S)
        with open(out, "rb") as file:
            return descriptor_pb2.FileDescriptorSet.FromString(file.read()).file


class Messages:
    """Message classes out of descriptors."""

    def __init__(self):
        self._pool = descriptor_pool.DescriptorPool()
        self._factory = message_factory.MessageFactory(self._pool)
        self._known = set()

    def add(self, files):
        """Adds files, each after what it imports."""
        left = {file.name: file for file in files}
        while left:
            ready = [file for file in left.values() if self._known.issuperset(file.dependency)]
            if not ready:
                missing = {name for file in left.values() for name in file.dependency}
                raise LookupError(f"not described: {sorted(missing - self._known - set(left))}")
            for file in ready:
                self._pool.Add(file)
                self._known.add(file.name)
                del left[file.name]

    def knows(self, file_name):
        return file_name in self._known

    def of(self, name):
        return self._factory.GetPrototype(self._pool.FindMessageTypeByName(name))

    def service(self, name):
        return self._pool.FindServiceByName(name)


class Client:
    """Calls methods by name, with requests and answers as messages or as dicts like their JSON."""

    def __init__(self, channel):
        self._channel = channel
        self._reflection = Messages()
        self._reflection.add(_reflection_files())
        self.messages = Messages()
        self.services = sorted(
            service.name for service in self._ask({"listServices": "*"})[0]
            .list_services_response.service)
        for service in self.services:
            if service.startswith("ferrule."):
                self._learn(service)

    def _ask(self, *requests):
        request = self._reflection.of(REFLECTION + ".ServerReflectionRequest")
        answer = self._reflection.of(REFLECTION + ".ServerReflectionResponse")
        call = self._channel.stream_stream(
            f"/{REFLECTION}.ServerReflection/ServerReflectionInfo",
            request_serializer=request.SerializeToString, response_deserializer=answer.FromString)
        stream = (json_format.ParseDict(each, request()) for each in requests)
        answers = list(call(stream, timeout=TIMEOUT_S))
        for each in answers:
            if each.HasField("error_response"):
                raise LookupError(each.error_response.error_message)
        return answers

    def _learn(self, symbol):
        """The file that describes a symbol, and all files that it stands on."""
        found = {}
        questions = [{"fileContainingSymbol": symbol}]
        while questions:
            for answer in self._ask(*questions):
                for encoded in answer.file_descriptor_response.file_descriptor_proto:
                    file = descriptor_pb2.FileDescriptorProto.FromString(encoded)
                    found[file.name] = file
            imports = {name for file in found.values() for name in file.dependency}
            questions = [{"fileByFilename": name} for name in sorted(imports - set(found))]
        self.messages.add(file for file in found.values() if not self.messages.knows(file.name))

    def call(self, service, method, request):
        described = self.messages.service(service).methods_by_name[method]
        ask = self.messages.of(described.input_type.full_name)
        answer = self.messages.of(described.output_type.full_name)
        if isinstance(request, dict):
            request = json_format.ParseDict(request, ask())
        return self._channel.unary_unary(
            f"/{service}/{method}", request_serializer=ask.SerializeToString,
            response_deserializer=answer.FromString)(request, timeout=TIMEOUT_S)
