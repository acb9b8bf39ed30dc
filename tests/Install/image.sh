# The gateway's image, built of the Dockerfile without a registry: base images are made on the spot of a bare Debian and this machine's own .NET.
# Sourced after common.sh. pod and build are podman and buildah with a store of their own; the image is $image.
tools debootstrap=debootstrap buildah=buildah podman=podman runc=runc
debian base ca-certificates libicu72 libssl3 libstdc++6 tzdata

store=(--root "$kept/store" --runroot "$kept/store-run" --storage-driver overlay)
build() { buildah "${store[@]}" "$@"; }
pod() { podman --network-backend netavark "${store[@]}" --runtime "$(command -v runc)" --cgroup-manager cgroupfs "$@"; }
image=localhost/sawedge:test
dotnet=$(dirname "$(readlink -f "$(command -v dotnet)")")

# import NAME FOLDER...: the bare Debian with some folders of this machine's .NET.
import() {
  local name=$1
  shift
  pod image exists "localhost/$name" && return
  echo "making the base image $name"
  tar -C "$kept/base" --exclude=./dev --exclude=./.whole --transform "s|^$(basename "$dotnet")/|usr/share/dotnet/|" -c . -C "$(dirname "$dotnet")" "${@/#/$(basename "$dotnet")/}" |
    pod import -q --change 'ENV NUGET_CERT_REVOCATION_MODE=offline' --change 'ENV PATH=/usr/share/dotnet:/usr/sbin:/usr/bin:/sbin:/bin' --change 'ENV DOTNET_ROOT=/usr/share/dotnet' - "localhost/$name" >/dev/null || stop "the base image $name was not made"
}
import dotnet-runtime:test dotnet host shared
import dotnet-sdk:test dotnet host shared sdk packs sdk-manifests

echo "building the image"
# This machine's certificates: where packages come through a proxy, the bare Debian does not know it.
nice buildah "${store[@]}" bud --isolation=chroot --network=host --format docker --layers=false \
  --volume /etc/ssl/certs:/etc/ssl/certs:ro --volume /usr/share/ca-certificates:/usr/share/ca-certificates:ro --volume /usr/local/share/ca-certificates:/usr/local/share/ca-certificates:ro \
  --build-arg SDK_IMAGE=localhost/dotnet-sdk:test --build-arg RUNTIME_IMAGE=localhost/dotnet-runtime:test -t "$image" . >"$kept/build.log" 2>&1 || { tail -n 40 "$kept/build.log"; stop "the image was not built"; }

