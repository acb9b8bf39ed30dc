# Both base images are arguments, so that a plant can use its own mirror or hardened images.
ARG SDK_IMAGE=mcr.microsoft.com/dotnet/sdk:10.0
ARG RUNTIME_IMAGE=mcr.microsoft.com/dotnet/runtime:10.0

FROM ${SDK_IMAGE} AS build
WORKDIR /source
COPY . .
RUN dotnet publish src/SawEdge.Gateway -c Release -o /app --nologo

FROM ${RUNTIME_IMAGE}
WORKDIR /app
COPY --from=build /app .
# The history lives on a volume; everything else may be read only.
ENV SAWEDGE_dataFolder=/data
VOLUME /data
USER 10001:10001
ENTRYPOINT ["dotnet", "/app/sawedge.dll"]
CMD ["run", "/config/sawedge.json"]
