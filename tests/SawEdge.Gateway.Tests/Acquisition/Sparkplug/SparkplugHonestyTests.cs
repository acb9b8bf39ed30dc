using CsCheck;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>
/// Whatever is lost, turned round, doubled or late: a value that stands in a frame is what the device had at that moment. Each message
/// carries its own number in a signal, so that a frame tells which moment it is of.
/// </summary>
public sealed class SparkplugHonestyTests
{
    private const string Head = "Head/Position";
    private const string Load = "Drive/Power";
    private const string Count = "Count";

    private enum Fate
    {
        Arrives,
        IsLost,
        IsDoubled,
        ComesAfterTheNext,
        ComesMuchLater,
    }

    private static readonly Gen<Fate> Fates = Gen.Frequency((12, Gen.Const(Fate.Arrives)), (2, Gen.Const(Fate.IsLost)), (1, Gen.Const(Fate.IsDoubled)), (1, Gen.Const(Fate.ComesAfterTheNext)), (1, Gen.Const(Fate.ComesMuchLater)));

    /// <summary>What happens (0 to 9: data; 10: another device; 11: device death; 12: births anew), its fate, and the time until the next.</summary>
    private static readonly Gen<(int What, Fate Fate, int Milliseconds)[]> Runs = Gen.Select(Gen.Int[0, 12], Fates, Gen.OneOf(Gen.Int[1, 300], Gen.Int[1500, 4000])).Array[5, 400];

    [Fact]
    public void Frames_WhateverBecomesOfTheMessages_HoldWhatWasTrue() => Runs.Sample(Run, iter: 400, print: run => string.Join(" ", run.Select(step => $"{step.What}:{step.Fate}:{step.Milliseconds}")));

    /// <summary>Without faults nothing is missing either.</summary>
    [Fact]
    public void Frames_OfARunWithoutFaults_AreComplete() => Runs.Sample(
        run =>
        {
            var player = new Player();
            foreach (var (what, _, milliseconds) in run)
                player.Play(what, Fate.Arrives, milliseconds);
            Assert.DoesNotContain(player.Host.Log.Entries, entry => entry.Id is 2404 or 2405 or 2407);
            player.Check(mustBeComplete: true);
        },
        iter: 100);

    private static void Run((int What, Fate Fate, int Milliseconds)[] run)
    {
        var player = new Player();
        foreach (var (what, fate, milliseconds) in run)
            player.Play(what, fate, milliseconds);
        player.Check(mustBeComplete: false);
    }

    /// <summary>A node and what is true of its device.</summary>
    private sealed class Player
    {
        private readonly List<(double Head, double Load)> _truth = [];
        private readonly Queue<(int At, string Topic, byte[] Payload)> _later = new();
        private (string Topic, byte[] Payload)? _afterNext;
        private ulong _aliases = 10;
        private int _steps;
        private bool _isAlive;

        public Player()
        {
            var saw = HostBench.Saw();
            Host = new HostBench(null, saw with
            {
                Source = (SparkplugSourceOptions)saw.Source with
                {
                    Signals =
                    [
                        new SparkplugMapping { Signal = Signal.HeadPosition, Metric = Head },
                        new SparkplugMapping { Signal = Signal.MotorLoad, Metric = Load },
                        new SparkplugMapping { Signal = Signal.PartCount, Metric = Count },
                    ],
                },
            });
            Births(Fate.Arrives);
        }

        public HostBench Host { get; }

        public void Play(int what, Fate fate, int milliseconds)
        {
            _steps++;
            Host.Advance(milliseconds);
            while (_later.TryPeek(out var late) && late.At <= _steps)
                Host.Receive(late.Topic, _later.Dequeue().Payload);
            switch (what)
            {
                case 12:
                    Births(fate);
                    break;
                case 11:
                    Send("DDEATH", "saw-1", fate);
                    _isAlive = false;
                    break;
                case 10:
                    Send("DDATA", "conveyor", fate, Metric.By(99, 1.0));
                    break;
                default:
                    Data(what, fate);
                    break;
            }
        }

        public void Check(bool mustBeComplete)
        {
            Host.Advance(5000);
            var frames = 0;
            foreach (var frame in Host.Drain())
            {
                if (!frame.Has(Signal.PartCount))
                    continue;
                frames++;
                var (head, load) = _truth[(int)frame.Number(Signal.PartCount)];
                if (mustBeComplete || frame.Has(Signal.HeadPosition))
                    Assert.Equal(head, frame.Number(Signal.HeadPosition));
                if (mustBeComplete || frame.Has(Signal.MotorLoad))
                    Assert.Equal(load, frame.Number(Signal.MotorLoad));
            }

            if (mustBeComplete)
                Assert.Equal(_truth.Count, frames);
        }

        // Of two births that are lost together, nothing can tell where the numbers happen to go on: one comes.
        private void Births(Fate fate)
        {
            _aliases = _aliases == 10 ? 20UL : 10;
            _isAlive = true;
            var now = Now(changesHead: true, changesLoad: true);
            var isNodesFate = _steps % 2 == 0;
            Host.Restart();
            Send("NBIRTH", null, isNodesFate && fate == Fate.IsLost ? fate : Fate.Arrives, new Metric("bdSeq", 0UL, SparkplugDataType.Int64));

            // Other aliases than before, and in another order.
            ulong[] aliases = _aliases == 10 ? [10, 11, 12] : [12, 10, 11];
            Send(
                "DBIRTH",
                "saw-1",
                isNodesFate ? Fate.Arrives : fate,
                new Metric(Head, now.Head) { Alias = aliases[0] },
                new Metric(Load, now.Load) { Alias = aliases[1] },
                new Metric(Count, (uint)(_truth.Count - 1), SparkplugDataType.UInt32) { Alias = aliases[2] });
        }

        private void Data(int what, Fate fate)
        {
            if (!_isAlive)
                return;
            var now = Now(changesHead: what % 2 == 0, changesLoad: what % 3 == 0);
            ulong[] aliases = _aliases == 10 ? [10, 11, 12] : [12, 10, 11];
            List<Metric> metrics = [Metric.By(aliases[2], (uint)(_truth.Count - 1))];
            if (what % 2 == 0)
                metrics.Add(Metric.By(aliases[0], now.Head));
            if (what % 3 == 0)
                metrics.Insert(0, Metric.By(aliases[1], now.Load));
            Send("DDATA", "saw-1", fate, [.. metrics]);
        }

        private (double Head, double Load) Now(bool changesHead, bool changesLoad)
        {
            var before = _truth.Count == 0 ? default : _truth[^1];
            _truth.Add((changesHead ? _truth.Count + 0.25 : before.Head, changesLoad ? _truth.Count + 0.5 : before.Load));
            return _truth[^1];
        }

        private void Send(string message, string? device, Fate fate, params Metric[] metrics)
        {
            var topic = HostBench.Topic(message, device);
            var payload = Host.Next(metrics);
            if (fate is Fate.Arrives or Fate.IsDoubled or Fate.IsLost)
            {
                for (var i = fate == Fate.IsLost ? 1 : fate == Fate.IsDoubled ? -1 : 0; i < 1; i++)
                    Host.Receive(topic, payload);
                if (_afterNext is { } kept)
                    Host.Receive(kept.Topic, kept.Payload);
                _afterNext = null;
            }
            else if (fate == Fate.ComesAfterTheNext && _afterNext is null)
            {
                _afterNext = (topic, payload);
            }
            else
            {
                _later.Enqueue((_steps + 8, topic, payload));
            }
        }
    }
}
