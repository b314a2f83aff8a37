# The service's image: built here, then only the binary is carried over.

FROM rust:1-bookworm AS build
WORKDIR /src
COPY . .
# The caches keep what an earlier build compiled; a cache is no layer, so the binary is copied out.
RUN --mount=type=cache,target=/usr/local/cargo/registry \
    --mount=type=cache,target=/src/target \
    cargo build --locked --release -p assize --bin assize \
    && install -D -m 0755 target/release/assize /out/assize

FROM debian:bookworm-slim
# Its own account, with a number that file permissions outside can refer to.
RUN groupadd --system --gid 10001 assize \
    && useradd --system --uid 10001 --gid 10001 --no-create-home --shell /usr/sbin/nologin assize
COPY --from=build /out/assize /usr/local/bin/assize
USER 10001:10001
ENV ASSIZE_LISTEN=0.0.0.0:8480
EXPOSE 8480
STOPSIGNAL SIGTERM
ENTRYPOINT ["/usr/local/bin/assize"]
CMD ["serve"]
