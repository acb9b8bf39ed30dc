using CsCheck;

namespace SawEdge.Modbus.Tests;

/// <summary>Which requests on an RTU line could be answered by mistake, and which could not.</summary>
public sealed class UnansweredRequestsTests
{
    private static readonly Gen<ReadRequest> Requests =
        from table in Gen.Int[1, 4]
        from quantity in Gen.OneOf(Gen.Int[1, 20], Gen.Int[1, ReadRequest.Limit((ModbusTable)table)])
        from address in Gen.OneOf(Gen.Int[0, ReadRequest.AddressSpace - quantity], Gen.Const(ReadRequest.AddressSpace - quantity))
        from unit in Gen.Int[1, 2]
        select new ReadRequest((byte)unit, (ModbusTable)table, (ushort)address, quantity);

    [Fact]
    public void Distinct_WhateverIsOutstanding_CannotBeMistaken() =>
        Gen.Select(Requests, Requests.Array[0, 12]).Sample(
            (request, outstanding) =>
            {
                var unanswered = new UnansweredRequests();
                foreach (var one in outstanding)
                    unanswered.Add(one, 0);
                var distinct = unanswered.Distinct(request);
                Assert.Equal((request.Unit, request.Table), (distinct.Unit, distinct.Table));
                Assert.NotEqual(request.AnswerBytes, distinct.AnswerBytes);
                Assert.False(unanswered.CanBeMistakenFor(distinct));
                Assert.DoesNotContain(
                    outstanding.TakeLast(UnansweredRequests.Capacity),
                    one => RtuFrame.FindFault(distinct, RtuDevice.Frame(one.Unit, [(byte)one.Table, (byte)one.AnswerBytes, .. new byte[one.AnswerBytes]]), out _) is null);
            },
            iter: 20_000);

    [Fact]
    public void CanBeMistakenFor_ExactlyWhatItsAnswerFits() =>
        Gen.Select(Requests, Requests).Sample(
            (one, other) =>
            {
                var unanswered = new UnansweredRequests();
                unanswered.Add(one, 0);
                var answer = RtuDevice.Frame(one.Unit, [(byte)one.Table, (byte)one.AnswerBytes, .. new byte[one.AnswerBytes]]);
                Assert.Equal(RtuFrame.FindFault(other, answer, out _) is null, unanswered.CanBeMistakenFor(other));
                Assert.True(unanswered.Takes(answer));
                Assert.Equal(0, unanswered.Count);
            },
            iter: 20_000);

    [Fact]
    public void ForgetBefore_AMoment_KeepsTheLater()
    {
        var unanswered = new UnansweredRequests();
        for (var i = 0; i < 12; i++)
            unanswered.Add(new ReadRequest(1, ModbusTable.Coils, 0, 1 + (8 * i)), i);
        Assert.Equal(UnansweredRequests.Capacity, unanswered.Count);
        unanswered.ForgetBefore(10);
        Assert.Equal(2, unanswered.Count);
        Assert.True(unanswered.CanBeMistakenFor(new ReadRequest(1, ModbusTable.Coils, 500, 88)));
        unanswered.Answered(2);
        Assert.Equal(2, unanswered.Count);
        unanswered.Answered(1);
        Assert.Equal(0, unanswered.Count);
    }
}
