# Both base images are arguments, so that a plant can use its own mirror or hardened images.
ARG SDK_IMAGE=mcr.microsoft.com/dotnet/sdk:10.0
ARG RUNTIME_IMAGE=mcr.microsoft.com/dotnet/aspnet:10.0

FROM ${SDK_IMAGE} AS build
WORKDIR /source
# What decides which packages are needed comes first: as long as it stays the same, they are not fetched again.
COPY .editorconfig Directory.Build.props Directory.Packages.props ./
COPY src/SawEdge.Core/*.csproj src/SawEdge.Core/packages.lock.json src/SawEdge.Core/
COPY src/SawEdge.Modbus/*.csproj src/SawEdge.Modbus/packages.lock.json src/SawEdge.Modbus/
COPY src/SawEdge.Simulator/*.csproj src/SawEdge.Simulator/packages.lock.json src/SawEdge.Simulator/
COPY src/SawEdge.Gateway/*.csproj src/SawEdge.Gateway/packages.lock.json src/SawEdge.Gateway/
RUN dotnet restore src/SawEdge.Gateway --locked-mode
COPY src src
COPY deploy/packages/sbom.sh deploy/packages/dotnet-tools.json deploy/packages/
# For this kind of machine alone: the native libraries of all others are more than the program.
RUN dotnet publish src/SawEdge.Gateway -c Release --use-current-runtime --no-self-contained -o /app --nologo -p:NuGetLockFilePath=obj/publish.lock.json -p:RestoreLockedMode=false -p:DebugType=none -p:PublishDocumentationFiles=false -p:PublishReferencesDocumentationFiles=false \
 && deploy/packages/sbom.sh /app/sawedge.cdx.json \
 && install -d -m 0750 /made/data

FROM ${RUNTIME_IMAGE}
WORKDIR /app
COPY --from=build /app .
# An engine that makes a volume gives it the owner and the rights of this folder: they are copied with it only as a part of another.
COPY --from=build --chown=10001:10001 /made /
# The history lives on a volume; everything else may be read only. No diagnostics port: it would want to write to /tmp.
ENV SAWEDGE_dataFolder=/data \
    DOTNET_EnableDiagnostics=0
VOLUME /data
USER 10001:10001
# It asks the data folder, not a port: the page may be switched off.
HEALTHCHECK --interval=60s --timeout=20s --start-period=120s --retries=3 CMD ["dotnet", "/app/sawedge.dll", "status", "--gateway", "--data", "/data"]
ENTRYPOINT ["dotnet", "/app/sawedge.dll"]
CMD ["run", "/config/sawedge.json"]
